package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// writeWhole writes one output file whole or not at all: fill writes into a file beside it, which
// takes the name only once everything is on disk. A file that is there already is left alone and
// an error, unless force is set. path "-" is not special here.
func writeWhole(path string, force bool, fill func(io.Writer) error) error {
	switch st, err := os.Lstat(path); {
	case err == nil && st.IsDir():
		return fmt.Errorf("%s is a folder: name a file in it", path)
	case err == nil && !force:
		return existsError(path)
	case err == nil && !st.Mode().IsRegular():
		return fmt.Errorf("%s is not an ordinary file and is not replaced: choose another name", path)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s cannot be written (%w): choose another place", path, cause(err))
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".antiphon-*.part")
	if err != nil {
		return fmt.Errorf("%s cannot be written (%w): choose another folder", path, cause(err))
	}
	part := f.Name()
	defer os.Remove(part) // after success the name is gone already
	defer f.Close()

	w := bufio.NewWriterSize(f, 1<<16)
	if err := fill(w); err != nil {
		return err
	}
	err = errors.Join(w.Flush(), f.Chmod(0o644), f.Sync(), f.Close())
	if err != nil {
		return fmt.Errorf("%s could not be written to the end (%w): make room or choose another folder", path, cause(err))
	}
	if force {
		err = os.Rename(part, path)
	} else {
		err = os.Link(part, path) // unlike a rename, fails where a file has come meanwhile
		if err != nil && !errors.Is(err, fs.ErrExist) {
			err = os.Rename(part, path) // a file system without links
		}
	}
	if errors.Is(err, fs.ErrExist) {
		return existsError(path)
	}
	if err != nil {
		return fmt.Errorf("%s cannot be written (%w): choose another name", path, cause(err))
	}
	return nil
}

func existsError(path string) error {
	return fmt.Errorf("%s is there already and is not overwritten: choose another name, or add --force", path)
}

// cause strips the operation and the path from an error of the file system; the sentence around it
// names the path.
func cause(err error) error {
	if pe, ok := errors.AsType[*fs.PathError](err); ok {
		return pe.Err
	}
	if le, ok := errors.AsType[*os.LinkError](err); ok {
		return le.Err
	}
	return err
}
