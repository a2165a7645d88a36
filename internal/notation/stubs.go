package notation

import "antiphon/internal/music"

func readMXL(data []byte, lim Limits, p *pardons) (*music.Score, error)  { return nil, ErrNotAScore }
func readMIDI(data []byte, lim Limits, p *pardons) (*music.Score, error) { return nil, ErrNotAScore }
func readABC(data []byte, lim Limits, p *pardons) (*music.Score, error)  { return nil, ErrNotAScore }
func looksABC([]byte) bool                                               { return false }
func isRMID([]byte) bool                                                 { return false }
func chordSymbol(n *node) string                                         { return "" }
