package book

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"strconv"
	"strings"
	"time"
)

func itoa(n int) string { return strconv.Itoa(n) }

// line is the JSON of an entry: its fields in one fixed order.
type line struct {
	Key       string          `json:"key"`
	At        time.Time       `json:"at"`
	Kind      Kind            `json:"entry"`
	Void      string          `json:"void,omitempty"`
	Egg       string          `json:"egg,omitempty"`
	Clutch    string          `json:"clutch,omitempty"`
	Dam       Names           `json:"dam,omitempty"`
	Sire      string          `json:"sire,omitempty"`
	Profile   string          `json:"profile,omitempty"`
	Eggs      int             `json:"eggs,omitempty"`
	LaidAfter time.Time       `json:"laid_after,omitzero"`
	LaidBy    time.Time       `json:"laid_by,omitzero"`
	Found     json.RawMessage `json:"found,omitempty"`
	Box       string          `json:"box,omitempty"`
	Slot      string          `json:"slot,omitempty"`
	Zone      string          `json:"zone,omitempty"`
	Probe     string          `json:"probe,omitempty"`
	OffsetK   *float64        `json:"offset_k,omitempty"`
	From      time.Time       `json:"from,omitzero"`
	Points    []Point         `json:"points,omitempty"`
	Medium    string          `json:"medium,omitempty"`
	DryG      *float64        `json:"dry_g,omitempty"`
	WaterG    *float64        `json:"water_g,omitempty"`
	TotalG    *float64        `json:"total_g,omitempty"`
	Verdict   string          `json:"verdict,omitempty"`
	What      string          `json:"what,omitempty"`
	MassG     *float64        `json:"mass_g,omitempty"`
	Why       string          `json:"why,omitempty"`
	About     string          `json:"about,omitempty"`
	Text      string          `json:"text,omitempty"`
	Seq       uint64          `json:"seq,omitempty"`
	Recorded  time.Time       `json:"recorded,omitzero"`
}

// MarshalJSON writes an entry as one line of the book. What [Parse] reads from
// it is the same entry.
func (e Entry) MarshalJSON() ([]byte, error) {
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(line{
		Key: e.Key, At: e.At.UTC(), Kind: e.Kind, Void: e.Void, Egg: e.Egg, Clutch: e.Clutch,
		Dam: e.Dam, Sire: e.Sire, Profile: e.Profile, Eggs: e.Eggs,
		LaidAfter: e.LaidAfter.UTC(), LaidBy: e.LaidBy.UTC(), Found: json.RawMessage(e.Found),
		Box: e.Box, Slot: e.Slot, Zone: e.Zone, Probe: e.Probe, OffsetK: e.OffsetK, From: e.From.UTC(), Points: e.Points,
		Medium: e.Medium, DryG: e.DryG, WaterG: e.WaterG, TotalG: e.TotalG,
		Verdict: e.Verdict, What: e.What, MassG: e.MassG, Why: e.Why, About: e.About, Text: e.Text,
		Seq: e.Seq, Recorded: e.Recorded.UTC(),
	})
	if err != nil {
		return nil, fmt.Errorf("book: entry %s: %w", e.Key, err)
	}
	return []byte(strings.TrimSuffix(b.String(), "\n")), nil
}

// MarshalJSON writes one name as a string, several as a list.
func (n Names) MarshalJSON() ([]byte, error) {
	if len(n) == 1 {
		return json.Marshal(n[0])
	}
	return json.Marshal([]string(n))
}

// Same reports whether two entries say the same, whatever the ledger added.
func (e Entry) Same(o Entry) bool {
	e.Seq, e.Recorded, o.Seq, o.Recorded = 0, time.Time{}, 0, time.Time{}
	a, errA := e.MarshalJSON()
	b, errB := o.MarshalJSON()
	return errA == nil && errB == nil && string(a) == string(b)
}

// WriteJSON writes entries as JSON lines.
func WriteJSON(w io.Writer, entries iter.Seq[Entry]) error {
	for e := range entries {
		b, err := e.MarshalJSON()
		if err != nil {
			return err
		}
		if _, err := w.Write(append(b, '\n')); err != nil {
			return fmt.Errorf("book: export: %w", err)
		}
	}
	return nil
}

var columns = []string{"key", "at", "entry", "void", "egg", "clutch", "dam", "sire", "profile", "eggs",
	"laid_after", "laid_by", "found", "box", "slot", "zone", "probe", "offset_k", "from", "points", "medium",
	"dry_g", "water_g", "total_g", "verdict", "what", "mass_g", "why", "about", "text", "seq", "recorded"}

// WriteCSV writes entries as a table (RFC 4180) that a spreadsheet may open: a
// cell that it would take for a formula begins with an apostrophe. Several dams
// are joined by a semicolon; points are JSON.
func WriteCSV(w io.Writer, entries iter.Seq[Entry]) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true // RFC 4180, section 2.1
	if err := c.Write(columns); err != nil {
		return fmt.Errorf("book: export: %w", err)
	}
	for e := range entries {
		points := ""
		if len(e.Points) > 0 {
			b, err := json.Marshal(e.Points)
			if err != nil {
				return fmt.Errorf("book: entry %s: points: %w", e.Key, err)
			}
			points = string(b)
		}
		cells := []string{e.Key, stamp(e.At), string(e.Kind), e.Void, e.Egg, e.Clutch, strings.Join(e.Dam, "; "), e.Sire, e.Profile, count(uint64(e.Eggs)),
			stamp(e.LaidAfter), stamp(e.LaidBy), string(e.Found), e.Box, e.Slot, e.Zone, e.Probe, figure(e.OffsetK), stamp(e.From), points, e.Medium,
			figure(e.DryG), figure(e.WaterG), figure(e.TotalG), e.Verdict, e.What, figure(e.MassG), e.Why, e.About, e.Text, count(e.Seq), stamp(e.Recorded)}
		for i, s := range cells {
			cells[i] = Cell(s)
		}
		if err := c.Write(cells); err != nil {
			return fmt.Errorf("book: export: %w", err)
		}
	}
	c.Flush()
	if err := c.Error(); err != nil {
		return fmt.Errorf("book: export: %w", err)
	}
	return nil
}

// Cell makes a text safe for a spreadsheet, which takes a cell that begins with
// one of = + - @, a tab or a carriage return for a formula.
func Cell(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.RFC3339Nano)
}

func count(n uint64) string {
	if n == 0 {
		return ""
	}
	return strconv.FormatUint(n, 10)
}

func figure(g *float64) string {
	if g == nil {
		return ""
	}
	return strconv.FormatFloat(*g, 'f', -1, 64)
}
