package storetest

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"io"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/store"
	"antiphon/internal/studio"
)

// exported says where the rows of each table that names a family are in family.json. A new table is
// entered here when the export has it; until then the tests fail.
var exported = map[string]string{
	"access_log": "AccessLog", "answers": "Answers", "films": "Films", "assignments": "Lessons", "consents": "Consents", "corrections": "Corrections", "devices": "Devices",
	"hearings": "Hearings", "invitations": "Invitations", "lessons": "Lessons", "letters": "Letters", "media": "Media", "notices": "Notices", "nudges": "Nudges", "push_addresses": "Push", "people": "People", "prints": "Prints",
	"remarks": "Remarks", "students": "Students", "takes": "Takes", "taps": "Taps", "student_plans": "Plans", "forecasts": "Forecasts", "own_fingerings": "Fingerings",
	"doomed": "", // files that are on their way out, and are not given out any more
}

// nothingForgotten reads the schema: every table that names a family is exported, and empty of a
// family that was erased.
func nothingForgotten(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v := h.Live(t, f, "Abelone", "Miranda")
	var named []string
	rowsOf := func(table string) (n int) {
		t.Helper()
		must(t, h.Store.Within(ctx, func(tx studio.Records) error {
			return store.SQL(tx).QueryRowContext(ctx, `SELECT count(*) FROM `+table+` WHERE family_id = $1`, string(v.Family)).Scan(&n)
		}))
		return n
	}
	var tables []string
	must(t, h.Store.Within(ctx, func(tx studio.Records) error { tables = Tables(t, tx); return nil }))
	for _, table := range tables {
		must(t, h.Store.Within(ctx, func(tx studio.Records) error {
			rs, err := store.SQL(tx).QueryContext(ctx, `SELECT * FROM `+table+` WHERE 1 = 0`)
			must(t, err)
			defer rs.Close()
			cols, err := rs.Columns()
			if slices.Contains(cols, "family_id") {
				named = append(named, table)
			}
			return err
		}))
	}
	if len(tables) < 25 || len(named) < 12 {
		t.Fatalf("the schema has tables %v, of families %v", tables, named)
	}
	var buf bytes.Buffer
	must(t, h.Desk.ExportFamily(ctx, v, v.Family, &buf))
	z, err := zip.NewReader(bytes.NewReader(buf.Bytes()), int64(buf.Len()))
	must(t, err)
	file, err := z.Open("family.json")
	must(t, err)
	text, err := io.ReadAll(file)
	must(t, err)
	var e map[string]json.RawMessage
	must(t, json.Unmarshal(text, &e))
	for _, table := range named {
		key, known := exported[table]
		switch {
		case !known:
			t.Errorf("table %s names a family: does the export have it? Enter it in exported", table)
		case key == "":
		case rowsOf(table) == 0:
			t.Errorf("table %s is empty: this shows nothing", table)
		case len(e[key]) < 3 || string(e[key]) == "null":
			t.Errorf("table %s: the export has no %s", table, key)
		case table == "assignments" && !strings.Contains(string(e[key]), "Miranda plays"):
			t.Errorf("the lessons come without their assignments: %s", e[key])
		}
	}
	_, err = h.Desk.EraseFamily(ctx, f.Teacher, v.Family)
	must(t, err)
	must(t, h.Desk.Sweep(ctx, f.Ear))
	for _, table := range named {
		if n := rowsOf(table); n != 0 {
			t.Errorf("%d rows of an erased family in %s", n, table)
		}
	}
}
