package lesson

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Slower than 20 or faster than 400 quarter notes a minute is no tempo that is practised (common practice,
// no source).
const (
	slowestBpm = 20
	fastestBpm = 400
)

func bpm(s string) (float64, error) {
	if s = strings.Replace(strings.TrimSpace(s), ",", ".", 1); s == "" {
		return 0, nil
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return 0, err
	}
	if !(f >= slowestBpm && f <= fastestBpm) {
		return 0, fmt.Errorf("%v is outside %d to %d", f, slowestBpm, fastestBpm)
	}
	return math.Round(f*100) / 100, nil
}

func tempo(bpm float64) string {
	if bpm == 0 {
		return ""
	}
	return strconv.FormatFloat(bpm, 'f', -1, 64)
}

// moment is a place in a take as it is typed: "1:05.5".
func moment(s float64) string {
	if !(s > 0) || s > 1e6 {
		return "0:00"
	}
	tenths := int(math.Round(s * 10))
	at := fmt.Sprintf("%d:%02d", tenths/600, tenths/10%60)
	if t := tenths % 10; t > 0 {
		at += "." + strconv.Itoa(t)
	}
	return at
}
