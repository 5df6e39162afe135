package forms

import (
	"errors"
	"maps"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// good has answers to every form, and the entries that they make.
var good = map[string]struct {
	answers url.Values
	want    string // JSON lines, without key, time and kind of the first
}{
	Found: {url.Values{"dam": {"Sorrel"}, "eggs": {"3", ""}, "since": {"look"}, "box": {"B1"}, "slots": {""}, "clutch": {"S3"}, "look Sorrel": {"2026-06-07T19:00:00Z"}, "free B1": {"e f g"}},
		`"entry":"clutch","clutch":"S3","dam":"Sorrel","eggs":3,"laid_after":"2026-06-07T19:00:00Z","laid_by":"2026-06-09T14:30:00Z"}
{"key":"k.1","at":"2026-06-09T14:30:00Z","entry":"placed","egg":"S3-1","box":"B1","slot":"e"}
{"key":"k.2","at":"2026-06-09T14:30:00Z","entry":"placed","egg":"S3-2","box":"B1","slot":"f"}
{"key":"k.3","at":"2026-06-09T14:30:00Z","entry":"placed","egg":"S3-3","box":"B1","slot":"g"}`},
	"placed":  {url.Values{"egg": {"S2-1"}, "box": {"B2"}, "slot": {" a "}}, `"entry":"placed","egg":"S2-1","box":"B2","slot":"a"}`},
	"looked":  {url.Values{"dam": {"", "Sorrel"}}, `"entry":"looked","dam":"Sorrel","found":false}`},
	"candled": {url.Values{"egg": {"S1-3"}, "verdict": {"fertile"}}, `"entry":"candled","egg":"S1-3","verdict":"fertile"}`},
	BoxCandled: {url.Values{"box": {"B1"}, "every": {"fertile"}, "eggs B1": {"S1-3\tS1-4\tS2-1"}, "verdict S1-4": {"slug"}}, `"entry":"candled","egg":"S1-3","verdict":"fertile"}
{"key":"k.1","at":"2026-06-09T14:30:00Z","entry":"candled","egg":"S1-4","verdict":"slug"}
{"key":"k.2","at":"2026-06-09T14:30:00Z","entry":"candled","egg":"S2-1","verdict":"fertile"}`},
	"weighed":        {url.Values{"box": {"B1"}, "total_g": {"108,5"}}, `"entry":"weighed","box":"B1","total_g":108.5}`},
	"watered":        {url.Values{"box": {"B1"}, "water_g": {"4"}}, `"entry":"watered","box":"B1","water_g":4}`},
	"moved":          {url.Values{"box": {"B1"}, "zone": {"incubator"}, "probe": {"incubator-air"}, "offset": {"-1,8"}}, `"entry":"moved","box":"B1","zone":"incubator","probe":"incubator-air","offset_k":-1}`},
	"egg-moved":      {url.Values{"egg": {"S1-3"}, "box": {"B2"}, "slot": {"k"}}, `"entry":"moved","egg":"S1-3","box":"B2","slot":"k"}`},
	"pipped":         {url.Values{"egg": {"S1-3"}}, `"entry":"pipped","egg":"S1-3"}`},
	"hatched":        {url.Values{"egg": {"S1-3"}, "mass_g": {"1.9"}}, `"entry":"hatched","egg":"S1-3","mass_g":1.9}`},
	"lost":           {url.Values{"egg": {"S1-3"}, "why": {"mould"}}, `"entry":"lost","egg":"S1-3","why":"mould"}`},
	"hatchling":      {url.Values{"hatchling": {"S1-1"}, "what": {"weighed"}, "mass_g": {"2"}}, `"entry":"hatchling","egg":"S1-1","what":"weighed","mass_g":2}`},
	"note":           {url.Values{"text": {"a dent\r\nbelow"}, "about": {"B1"}}, `"entry":"note","about":"B1","text":"a dent\nbelow"}`},
	"pairing":        {url.Values{"dam": {"Sorrel"}, "sire": {"Juniper"}}, `"entry":"pairing","dam":"Sorrel","sire":"Juniper"}`},
	"rested":         {url.Values{"dam": {"Sorrel"}}, `"entry":"rested","dam":"Sorrel"}`},
	"retired":        {url.Values{"dam": {"Sorrel"}}, `"entry":"retired","dam":"Sorrel"}`},
	"amended":        {url.Values{"whose": {"Tansy"}, "profile": {"leopard gecko"}, "called": {"Tansie"}, "why": {""}}, `"entry":"amended","dam":"Tansy","profile":"leopard gecko","name":"Tansie"}`},
	"clutch-amended": {url.Values{"laying": {"S2"}, "profile": {"leopard gecko"}, "why": {"a guess"}}, `"entry":"amended","clutch":"S2","profile":"leopard gecko","why":"a guess"}`},
	"dam":            {url.Values{"name": {"Yarrow"}, "profile": {"crested gecko"}}, `"entry":"dam","dam":"Yarrow","profile":"crested gecko"}`},
	"box": {url.Values{"newbox": {"B4"}, "zone": {"room"}, "probe": {""}, "offset": {"0.5 °C"}, "medium": {"vermiculite"}, "dry_g": {"40"}, "water_g": {"40"}, "total_g": {"112"}},
		`"entry":"box","box":"B4","zone":"room","offset_k":0.5,"medium":"vermiculite","dry_g":40,"water_g":40,"total_g":112}`},
	"emptied": {url.Values{"box": {"B2"}}, `"entry":"emptied","box":"B2"}`},
}

// A form that is filled in makes these entries, the book takes them, and the same
// form sent again makes the same ones.
func TestFormsMakeTheirEntries(t *testing.T) {
	for _, f := range All() {
		c, ok := good[f.Kind]
		if !ok {
			t.Errorf("%s: the form is not tried", f.Kind)
			continue
		}
		got, err := f.Entries("k", at, words.Fahrenheit, c.answers)
		if err != nil {
			t.Errorf("%s: %v", f.Kind, err)
			continue
		}
		if want := `{"key":"k","at":"2026-06-09T14:30:00Z",` + c.want; lines(t, got) != want {
			t.Errorf("%s makes\n%s, want\n%s", f.Kind, lines(t, got), want)
		}
		again, err := f.Entries("k", at, words.Fahrenheit, c.answers)
		if err != nil || lines(t, again) != lines(t, got) {
			t.Errorf("%s: sent again it makes\n%s (%v)", f.Kind, lines(t, again), err)
		}
		b, err := note(t, *season(t).Book, lines(t, got))
		if err != nil {
			t.Errorf("%s: the book refuses it: %v", f.Kind, err)
		}
		n := b.Len()
		if b, err = note(t, b, lines(t, again)); err != nil || b.Len() != n {
			t.Errorf("%s: noted again: %v, %d entries after %d", f.Kind, err, b.Len(), n)
		}
	}
}

// Clutches are dated and placed by what the form pinned, and by what was written.
func TestEggsFoundVariants(t *testing.T) {
	for name, c := range map[string]struct {
		change url.Values
		want   []string // in the entries
		none   string   // not in them
	}{
		"another number":         {url.Values{"eggs": {"2", " 1 "}}, []string{`"eggs":1,`}, `"k.2"`},
		"within three days":      {url.Values{"since": {"72h"}}, []string{`"laid_after":"2026-06-06T14:30:00Z"`}, "look"},
		"slots written":          {url.Values{"slots": {"x, y z"}}, []string{`"slot":"x"`, `"slot":"y"`, `"slot":"z"`}, `"slot":"e"`},
		"the earlier of looks":   {url.Values{"dam": {"Sorrel", "Tansy"}, "look Tansy": {"2026-06-05T08:00:00Z"}}, []string{`"dam":["Sorrel","Tansy"]`, `"laid_after":"2026-06-05T08:00:00Z"`}, "06-07"},
		"a first look":           {url.Values{"look Sorrel": {"none"}}, []string{`"dam":"Sorrel"`, `"laid_after":"2026-06-02T14:30:00Z"`}, "06-07"},
		"a look and a first one": {url.Values{"dam": {"Sorrel", "Tansy"}, "look Tansy": {"none"}}, []string{`"laid_after":"2026-06-02T14:30:00Z"`}, "06-07"},
		"no dam":                 {url.Values{"dam": nil}, []string{`"laid_after":"2026-06-02T14:30:00Z"`}, `"dam"`},
		"no dam, within a week":  {url.Values{"dam": nil, "since": {"168h"}}, []string{`"laid_after":"2026-06-02T14:30:00Z"`}, `"dam"`},
	} {
		f, _ := Of(Found)
		answers := maps.Clone(good[Found].answers)
		maps.Copy(answers, c.change)
		entries, err := f.Entries("k", at, words.Celsius, answers)
		got := lines(t, entries)
		if err != nil || strings.Contains(got, c.none) {
			t.Errorf("%s: %v, and %s in\n%s", name, err, c.none, got)
		}
		for _, want := range c.want {
			if !strings.Contains(got, want) {
				t.Errorf("%s: no %s in\n%s", name, want, got)
			}
		}
	}
}

// wrong has a wrong answer to a field of a form, and the reason that the person reads.
// The form itself or the book refuses it.
var wrong = []struct{ form, field, answer, want string }{
	{Found, "dam", "Nobody", "this form does not know when Nobody was last looked at: open it again, or choose how long ago her lay box was last seen empty"},
	{Found, "eggs", "some", "say how many eggs there are"},
	{Found, "eggs", "0", "0 eggs need as many slots, and there are 3: write a name for each, like a b c"},
	{Found, "eggs", "4", "4 eggs need as many slots, and there are 3: write a name for each, like a b c"},
	{Found, "since", "soon", "say since when the eggs may have been laid"},
	{Found, "since", "-1h", "say since when the eggs may have been laid"},
	{Found, "box", "", "choose the box that the eggs are in"},
	{Found, "box", "B9", "3 eggs need as many slots, and there are 0: write a name for each, like a b c"},
	{Found, "slots", "a b", "3 eggs need as many slots, and there are 2: write a name for each, like a b c"},
	{Found, "clutch", "S1", "Name of the clutch: S1 is in the book already"},
	{Found, "clutch", "a\a", "Name of the clutch: has a character that cannot be printed"},
	{"placed", "egg", "", "Egg: is missing"},
	{"placed", "egg", "X1-1", "Egg: clutch X1 of egg X1-1 is not in the book"},
	{"placed", "egg", "S1-1", "Egg: S1-1 hatched already"},
	{"placed", "slot", "", "Slot: is missing"},
	{"looked", "dam", "Nobody", "Dam: Nobody is not in the book"},
	{"candled", "verdict", "", `"" is no verdict; it is fertile, infertile, slug or unsure`},
	{"candled", "verdict", "fertil", `"fertil" is no verdict; it is fertile, infertile, slug or unsure`},
	{"candled", "egg", "S1-1", "Egg: S1-1 hatched already"},
	{BoxCandled, "box", "B2", "choose a box in which an egg waits"},
	{BoxCandled, "every", "fertil", `"fertil" is no verdict; it is fertile, infertile, slug or unsure`},
	{BoxCandled, "verdict S1-4", "fertil", `"fertil" is no verdict; it is fertile, infertile, slug or unsure`},
	{BoxCandled, "eggs B1", "S1-3\tS1-1", "S1-1 hatched already"},
	{"weighed", "box", "", "Box: is missing"},
	{"weighed", "total_g", "heavy", `"heavy" is no mass; write grams, like 112.5`},
	{"weighed", "total_g", "", "Mass with the box, g: is missing"},
	{"weighed", "total_g", "NaN", `"NaN" is no mass; write grams, like 112.5`},
	{"weighed", "total_g", "-4", "Mass with the box, g: -4 is no mass in grams"},
	{"watered", "water_g", "1e9", "Water, g: 1e+09 is no mass in grams"},
	{"moved", "zone", "", "Zone: is missing"},
	{"moved", "zone", "a\a", "Zone: has a character that cannot be printed"},
	{"moved", "probe", "a\a", "Probe in the box: has a character that cannot be printed"},
	{"moved", "offset", "warm", `"warm" is no difference of temperature; write degrees, like 0.5 or -0.5`},
	{"moved", "offset", "16", `"16" is more than a box may differ from its probe or its place; write at most 10 degrees`},
	{"moved", "offset", "30F", `"30F" is more than a box may differ from its probe or its place; write at most 18 degrees`},
	{"hatched", "mass_g", "0", "Mass, g: 0 is no mass in grams"},
	{"lost", "why", "a\a", "Why: has a character that cannot be printed"},
	{"hatchling", "hatchling", "S1-3", "Hatchling: S1-3 has not hatched"},
	{"hatchling", "what", "flew", `What: "flew" is nothing a hatchling does here`},
	{"hatchling", "mass_g", "", "Mass, g: is missing"},
	{"note", "text", "", "Note: is missing"},
	{"note", "about", "a\a", "About: has a character that cannot be printed"},
	{"pairing", "dam", "", "choose one dam"},
	{"pairing", "sire", "", "Sire: is missing"},
	{"pairing", "sire", "a\a", "Sire: has a character that cannot be printed"},
	{"rested", "dam", "", "choose one dam"},
	{"rested", "dam", "Nobody", "Dam: Nobody is not in the book"},
	{"retired", "dam", "Tansy", "Dam: Tansy was retired"},
	{"amended", "whose", "Nobody", "Dam: Nobody is not in the book"},
	{"amended", "called", "Sorrel", "Her name as it should be: another dam is called Sorrel"},
	{"clutch-amended", "laying", "S9", "Clutch: clutch S9 is not in the book"},
	{"clutch-amended", "profile", "", "Kind: is missing"},
	{"dam", "name", "", ""},
	{"dam", "name", "Sorrel", "Her name: Sorrel is in the book already"},
	{"dam", "profile", "a\a", "Kind: has a character that cannot be printed"},
	{"box", "newbox", "B1", "Name of the box: B1 still holds S1-3, S1-4"},
	{"box", "newbox", "..", `Name of the box: ".." is no name`},
	{"box", "zone", "", "Zone: is missing"},
	{"box", "medium", "a\a", "Medium: has a character that cannot be printed"},
	{"box", "dry_g", "0", "Dry medium, g: 0 is no mass in grams"},
	{"emptied", "box", "B1", "Box: B1 still holds S1-3, S1-4"},
}

func TestWrongAnswersAreRefused(t *testing.T) {
	tried := map[string]bool{}
	for _, c := range wrong {
		tried[c.field] = true
		if got := refusal(t, c.form, url.Values{c.field: {c.answer}}); !strings.HasPrefix(got, c.want) {
			t.Errorf("%s: %s %q is refused with %q, want %q", c.form, c.field, c.answer, got, c.want)
		}
	}
	for name := range fields {
		if !tried[name] {
			t.Errorf("no wrong answer to %s is tried", name)
		}
	}
}

// A look that is later than the form would date a clutch backwards.
func TestALookLaterThanTheFormIsRefused(t *testing.T) {
	got := refusal(t, Found, url.Values{"look Sorrel": {"2026-06-09T14:31:00Z"}})
	if want := "the last look that found none is later than the time of this form"; !strings.HasPrefix(got, want) {
		t.Errorf("refused with %q, want %q", got, want)
	}
}

// The book's reasons name the time and the key of a form by the page's words, each
// once, and carry no key that no person wrote.
func TestReasonsNameWhatWasAsked(t *testing.T) {
	f, _ := Of("pipped")
	faults := book.Faults{
		{Key: "k", Line: 3, Field: "at", Words: "is missing"},
		{Key: "k", Line: 3, Field: "key", Words: "is missing"},
		{Key: "k", Line: 3, Field: "egg", Words: "hatched"},
		{Key: "k.1", Line: 4, Field: "egg", Words: "hatched"},
		{Key: "k", Line: 3, Field: "slot", Words: "is taken"},
		{Key: "k", Line: 3, Words: "is broken"},
	}
	got := f.Refused(faults, func(name string, x Field) string { return name + "/" + x.Name })
	if want := []string{"at/: is missing", "key/: is missing", "egg/egg: hatched", "is taken", "is broken"}; !slices.Equal(got, want) {
		t.Errorf("reasons are %q, want %q", got, want)
	}
}

// Every field of a form has a row in the table, and every row is used.
func TestEveryFieldIsAsked(t *testing.T) {
	asked := map[string]bool{}
	for _, f := range All() {
		for _, x := range f.Fields {
			asked[x.Name] = true
			if x.Label == "" {
				t.Errorf("%s: the field %s has no row", f.Kind, x.Name)
			}
			if x.enter == nil && f.Kind != Found && f.Kind != BoxCandled {
				t.Errorf("%s: the field %s goes into no entry", f.Kind, x.Name)
			}
		}
		if got, ok := Of(f.Kind); !ok || got.Title != f.Title {
			t.Errorf("%s: the form is not found by its kind", f.Kind)
		}
	}
	for name := range fields {
		if !asked[name] {
			t.Errorf("no form asks for %s", name)
		}
	}
	if f, ok := Of("fond"); ok {
		t.Errorf("a form %v is found by a kind that is none", f)
	}
}

func TestTime(t *testing.T) {
	place := time.FixedZone("east", 2*3600)
	for text, want := range map[string]string{
		"2026-06-12T08:30":          "2026-06-12T06:30:00Z",
		"2026-06-12T08:30:20":       "2026-06-12T06:30:20Z",
		"2026-06-12T08:30:00-04:00": "2026-06-12T12:30:00Z",
		"":                          "say when it was, like 2026-06-12T08:30",
		"yesterday":                 `"yesterday" is no time; write it like 2026-06-12T08:30`,
	} {
		got, err := Time(text, place)
		said := got.Format(time.RFC3339)
		if err != nil {
			said, _ = usererr.Message(err)
		}
		if said != want {
			t.Errorf("%q is %q, want %q", text, said, want)
		}
	}
}

// In a box's form each egg may have its own verdict alone; without any there is nothing to note.
func TestBoxCandledEggByEgg(t *testing.T) {
	f, _ := Of(BoxCandled)
	answers := url.Values{"box": {"B1"}, "eggs B1": {"S1-3\tS1-4"}, "every": {""}, "verdict S1-3": {""}, "verdict S1-4": {"infertile"}}
	got, err := f.Entries("k", at, words.Celsius, answers)
	if want := `{"key":"k","at":"2026-06-09T14:30:00Z","entry":"candled","egg":"S1-4","verdict":"infertile"}`; err != nil || lines(t, got) != want {
		t.Errorf("it makes %s (%v), want %s", lines(t, got), err, want)
	}
	answers.Del("verdict S1-4")
	if got, err := f.Entries("k", at, words.Celsius, answers); err == nil {
		t.Errorf("without a verdict it makes %s", lines(t, got))
	}
}

// refusal is what a person reads about a form with good answers but for some.
func refusal(t *testing.T, form string, change url.Values) string {
	t.Helper()
	f, ok := Of(form)
	if !ok {
		t.Fatalf("no form %s", form)
	}
	answers := maps.Clone(good[form].answers)
	maps.Copy(answers, change)
	entries, err := f.Entries("k", at, words.Celsius, answers)
	if err == nil {
		_, err = season(t).Book.Prepare(book.NewDraft(entries...))
		var faults book.Faults
		if errors.As(err, &faults) {
			return strings.Join(f.Refused(faults, func(_ string, x Field) string { return x.Short() }), "\n")
		}
	}
	text, ok := usererr.Message(err)
	if !ok {
		t.Errorf("%s: %v: %v is not for a person", form, change, err)
	}
	return text
}
