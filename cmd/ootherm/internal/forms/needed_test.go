package forms

import (
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal/book"
)

// What is needed first comes first: a dam and a box before eggs, then what the day asks for.
func TestNeeded(t *testing.T) {
	desk := func(n int, change func(*snapshot.Snapshot)) Desk {
		d := season(t)
		b, err := note(t, book.Book{}, strings.Join(strings.Split(seasonLines, "\n")[:n], "\n"))
		if err != nil {
			t.Fatal(err)
		}
		d.Book = &b
		d.Now.Boxes[0].Clutches = nil
		change(d.Now)
		return d
	}
	plain := func(*snapshot.Snapshot) {}
	whole := strings.Count(seasonLines, "\n") + 1
	for name, c := range map[string]struct {
		d    Desk
		want []string
	}{
		"no station":  {Desk{}, nil},
		"nothing yet": {desk(0, plain), []string{"dam", "box"}},
		"a dam":       {desk(1, plain), []string{"box"}},
		"both":        {desk(3, plain), []string{Found}},
		"a day of everything": {desk(whole, func(n *snapshot.Snapshot) {
			yesterday := at.AddDate(0, 0, -1)
			n.Dams = []snapshot.Dam{{Dam: "Sorrel", Due: "look"}}
			n.Unplaced = []snapshot.Unplaced{{Clutch: "S2"}}
			n.Boxes[0].Medium = &snapshot.Medium{WeighNext: &yesterday}
			n.Boxes[0].Clutches = []snapshot.Clutch{{Window: &snapshot.Window{CheckFrom: yesterday}, Eggs: []snapshot.Egg{{Fate: "waiting"}}}}
		}), []string{"hatched", "pipped", "looked", Found, "placed", "weighed", "watered"}},
		"a dam without a kind": {desk(whole, func(n *snapshot.Snapshot) {
			n.Boxes[0].Clutches = []snapshot.Clutch{{Missing: []string{snapshot.MissingKind}}, {Clutch: "S2", Missing: []string{snapshot.MissingKind}}}
		}), []string{AmendedClutch, Found}},
		"a day of nothing": {desk(whole, func(n *snapshot.Snapshot) {
			tomorrow := at.AddDate(0, 0, 1)
			n.Dams = []snapshot.Dam{{Dam: "Sorrel", Due: "later"}}
			n.Boxes[0].Medium = &snapshot.Medium{WeighNext: &tomorrow}
			n.Boxes[0].Clutches = []snapshot.Clutch{{Window: &snapshot.Window{CheckFrom: tomorrow}, Eggs: []snapshot.Egg{{Fate: "waiting"}}}}
		}), []string{Found}},
	} {
		var got []string
		for _, x := range c.d.Needed() {
			got = append(got, x.Form.Kind)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: needed are %q, want %q", name, got, c.want)
		}
	}
}

// Each thing that a window can lack leads to a form that is filled in, or to a topic of the
// manual.
func TestMends(t *testing.T) {
	text := func(s string) *string { return &s }
	for _, c := range []struct {
		missing string
		dam     *string
		why, do string // beginning of why; the form with its answers, or the topic
	}{
		{snapshot.MissingKind, text("Olive"), "The kind of Olive is not noted.", "amended?whose=Olive"},
		{snapshot.MissingKind, text("Olive or Fern"), "The kind of C1 is not noted.", "clutch-amended?laying=C1"},
		{snapshot.MissingKind, nil, "The kind of C1 is not noted.", "clutch-amended?laying=C1"},
		{snapshot.UnknownKind, text("Olive"), "The kind of Olive is newt, which the configuration does not have.", "amended?whose=Olive"},
		{snapshot.MissingModel, nil, "Nothing is known of how long a newt takes", "species"},
		{snapshot.MissingZone, nil, "The book does not say where box B1 stands.", "moved?box=B1"},
		{snapshot.MissingSource, nil, "The configuration has no longer the probe or the zone of box B1.", "moved?box=B1"},
		{snapshot.MissingReading, nil, "No probe tells how warm", "no-window"},
		{snapshot.MissingResumption, nil, "Its eggs rest first", "note?about=C1&text=development+resumed"},
		{snapshot.MissingWarmth, nil, "It is too cold there", "forecast"},
		{snapshot.MissingHistory, nil, "What the eggs have felt is being read", ""},
	} {
		all := Mends(snapshot.Clutch{Clutch: "C1", Dam: c.dam, Profile: text("newt"), Missing: []string{c.missing}}, snapshot.Box{Box: "B1"})
		m := all[0]
		do := m.Topic
		if m.Form.Form.Kind != "" {
			do = m.Form.Form.Kind + "?" + m.Form.Answers.Encode()
		}
		if len(all) != 1 || !strings.HasPrefix(m.Why, c.why) || do != c.do || (m.Do == "") != (do == "") {
			t.Errorf("%s: %q leads to %q by %q, want %q and %q", c.missing, m.Why, do, m.Do, c.why, c.do)
		}
		for name := range m.Form.Answers {
			if !slices.ContainsFunc(m.Form.Form.Fields, func(f Field) bool { return f.Name == name }) {
				t.Errorf("%s: the form %s has no field %s", c.missing, m.Form.Form.Kind, name)
			}
		}
	}
	if got := Mends(snapshot.Clutch{}, snapshot.Box{}); len(got) > 0 {
		t.Errorf("nothing is missing, and %v mends it", got)
	}
	if x := Place(snapshot.Unplaced{Eggs: []snapshot.Egg{{Egg: "S3-1"}}}); x.Answers.Get("egg") != "S3-1" {
		t.Errorf("the first egg is placed by %v", x)
	}
}

// The usual answer to since when eggs were laid says what it means for these dams, and the
// kind of a new dam is chosen beforehand only where all dams have one.
func TestOpenedBySeason(t *testing.T) {
	d := season(t)
	first := func() string { return d.Options(fields["since"])[0].Text }
	if got := first(); got != "since the last look" {
		t.Errorf("every dam was looked at: %q", got)
	}
	add := func(line string) {
		t.Helper()
		b, err := note(t, *d.Book, line)
		if err != nil {
			t.Fatal(err)
		}
		d.Book = &b
	}
	kind := func() string { f, _ := Of("dam"); return d.Opened(f).Get("profile") }
	add(`{"key":"n1","at":"2026-06-08T08:00:00Z","entry":"dam","dam":"Yarrow","profile":"leopard gecko"}`)
	if got := first(); got != "since the last look, or within a week where none is noted" {
		t.Errorf("one dam was looked at: %q", got)
	}
	if got := kind(); got != "" {
		t.Errorf("of two kinds %q is chosen beforehand", got)
	}
	add(`{"key":"n2","at":"2026-06-08T08:00:00Z","entry":"amended","dam":"Yarrow","profile":"crested gecko"}`)
	if got := kind(); got != "crested gecko" {
		t.Errorf("of one kind %q is chosen beforehand", got)
	}
	d.At = d.At.Add(time.Hour)
	b, err := note(t, book.Book{}, `{"key":"n1","at":"2026-06-08T08:00:00Z","entry":"dam","dam":"Yarrow","profile":"leopard gecko"}`)
	if err != nil {
		t.Fatal(err)
	}
	d.Book = &b
	if got := first(); got != "no look noted before: within a week" {
		t.Errorf("no dam was looked at: %q", got)
	}
	f, _ := Of("dam")
	if got := d.Missing(f, map[string][]string{"name": {"Moss"}}); len(got) != 1 || got[0].Name != "profile" {
		t.Errorf("a dam without a kind misses %v", got)
	}
	d.Profiles = nil
	if got := d.Missing(f, map[string][]string{"name": {"Moss"}}); len(got) > 0 {
		t.Errorf("where no kind is offered, %v is missing", got)
	}
}
