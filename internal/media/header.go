package media

import (
	"encoding/binary"
	"io"
	"os"
	"slices"
)

// Two things that ffprobe does not tell are read from the first bytes of a file.

// head is the beginning of a file, or nothing.
func head(abs string) []byte {
	f, err := os.Open(abs)
	if err != nil {
		return nil
	}
	defer f.Close()
	b := make([]byte, 12)
	n, _ := io.ReadFull(f, b) // a shorter file gives a shorter head
	return b[:n]
}

// beginsAsQuickTime reports whether a file that ffmpeg took for MP4 by its name begins like one
// (ISO/IEC 14496-12: four bytes of length, then the type of the first box).
func beginsAsQuickTime(abs string) bool {
	b := head(abs)
	return len(b) >= 8 && slices.Contains([]string{"ftyp", "mdat", "moov", "moof", "free", "skip", "wide", "pnot", "styp"}, string(b[4:8]))
}

// wavShare is the share of a WAV file that is there, by the length in its RIFF header; 1 for whole
// files and for those that a recorder wrote without knowing the length.
func wavShare(abs string) float64 {
	b := head(abs)
	st, err := os.Stat(abs)
	if err != nil || len(b) < 12 || string(b[:4]) != "RIFF" || string(b[8:12]) != "WAVE" {
		return 1
	}
	says := int64(binary.LittleEndian.Uint32(b[4:])) + 8
	const unknown = 0x7fff0000 // such writers put 0, 2 GiB or 4 GiB, more or less
	if says >= unknown || says <= st.Size()+1 {
		return 1
	}
	return float64(st.Size()) / float64(says)
}
