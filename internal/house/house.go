// Package house holds no program: its test reads the imports of all packages and fails on a climb.
//
// The table of floors is the one in the design; a package that is not in it has no place yet and
// fails too. Add it there and here.
package house
