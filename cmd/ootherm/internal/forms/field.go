package forms

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	"example.com/ootherm/thermal/book"
)

// Sort is how a field is answered.
type Sort int

// Sorts of fields.
const (
	Text Sort = iota
	Long
	Number
	Difference // of temperature, in the reader's degrees
	Pick       // one of some options
	Many       // any of some options
)

// Field is one question of a form.
type Field struct {
	Name, Label string
	Sort        Sort
	Must        bool
	Usual       string // the answer where none is given, or words for it; empty where there is none
	None        string // shown where there is nothing to choose
	Adds        string // kind of the form that adds something to choose; empty where none does
	Other       string // asks for an answer that is not among the options; empty: no other is taken

	entryField string                          // the JSON name in an entry; empty: the same as Name
	fixed      []Option                        // the options of every station
	options    func(Desk) []Option             // the options by the state of a station; nil: fixed
	opened     func(Desk) string               // the answer of a form that is not touched; nil: Usual
	enter      func(*book.Entry, answer) error // puts the answer into an entry; nil: the form does it
}

// Option is one answer that may be chosen.
type Option struct{ Value, Text string }

// Short is the label without its part in brackets.
func (f Field) Short() string {
	short, _, _ := strings.Cut(f.Label, " (")
	return short
}

// Values are the values of options.
func Values(all []Option) []string {
	values := make([]string, len(all))
	for i, o := range all {
		values[i] = o.Value
	}
	return values
}

// answer is what a person answered to a field.
type answer struct {
	text  string      // the single answer, trimmed; the last one written where several came
	all   []string    // every answer to a field of sort Many
	units words.Units // of the reader's differences of temperature
}

// fields has a row for each field: how it is asked, what may be chosen, and how the
// answer becomes part of an entry. The name is the one in an HTML form.
var fields = map[string]Field{
	"dam": {
		Label: "Dam (several where they live together)", Sort: Many, None: "No dam is in the book yet.", Adds: "dam",
		options: Desk.breedingDams,
		enter: func(e *book.Entry, a answer) error {
			e.Dam = slices.DeleteFunc(slices.Clone(a.all), func(s string) bool { return s == "" })
			return nil
		},
	},
	"name": {
		Label: "Her name", Must: true, entryField: "dam",
		enter: func(e *book.Entry, a answer) error { e.Dam = book.Names{a.text}; return nil },
	},
	"whose": {
		Label: "Dam", Sort: Pick, Must: true, None: "No dam is in the book yet.", Adds: "dam", entryField: "dam",
		options: Desk.allDams,
		enter:   func(e *book.Entry, a answer) error { e.Dam = book.Names{a.text}; return nil },
	},
	"called": {Label: "Her name as it should be (empty: it is right)", entryField: "name", enter: text(func(e *book.Entry) *string { return &e.Name })},
	"laying": {
		Label: "Clutch", Sort: Pick, Must: true, None: "No clutch is in the book yet.", Adds: Found, entryField: "clutch",
		options: Desk.clutches, enter: text(func(e *book.Entry) *string { return &e.Clutch }),
	},
	"sire": {Label: "Sire", Must: true, enter: text(func(e *book.Entry) *string { return &e.Sire })},
	"profile": {
		Label: "Kind", Sort: Pick, None: "The configuration offers none.",
		options: func(d Desk) []Option { return plain(d.Profiles...) },
		enter:   text(func(e *book.Entry) *string { return &e.Profile }),
	},

	"eggs": {
		Label: "How many", Sort: Pick, Must: true, Usual: "2", Other: "Another number", fixed: plain("1", "2", "3", "4", "5", "6"),
		enter: func(e *book.Entry, a answer) (err error) {
			if e.Eggs, err = strconv.Atoi(a.text); err != nil {
				return usererr.New("say how many eggs there are")
			}
			return nil
		},
	},
	"since": {
		Label: "Laid", Sort: Pick, Must: true, Usual: sinceLook, entryField: "laid_after",
		fixed:   sinceOptions(sinceEither),
		options: Desk.since,
	},
	"slots": {Label: "Slots (empty: the next free ones)", entryField: "slot"},
	"clutch": {
		Label: "Name of the clutch", Must: true, Usual: "a free name", opened: Desk.freeClutchName,
		enter: text(func(e *book.Entry) *string { return &e.Clutch }),
	},

	"box":    {Label: "Box", Sort: Pick, Must: true, None: "No box is in use.", Adds: "box", options: Desk.boxesInUse, enter: text(boxOf)},
	"newbox": {Label: "Name of the box", Must: true, entryField: "box", enter: text(boxOf)},
	"slot":   {Label: "Slot", Must: true, enter: text(func(e *book.Entry) *string { return &e.Slot })},
	"zone":   {Label: "Zone", Sort: Pick, Must: true, None: "No zone is set up.", options: Desk.zones, enter: text(func(e *book.Entry) *string { return &e.Zone })},
	"probe": {
		Label: "Probe in the box", Sort: Pick, options: Desk.probes,
		opened: func(Desk) string { return noProbe },
		enter:  text(func(e *book.Entry) *string { return &e.Probe }),
	},
	"offset": {
		Label: "If it is warmer than that probe or place: by how much (-1 is colder)", Sort: Difference, entryField: "offset_k",
		enter: func(e *book.Entry, a answer) (err error) {
			e.OffsetK, err = difference(a.text, a.units)
			return err
		},
	},
	"medium":  {Label: "Medium", enter: text(func(e *book.Entry) *string { return &e.Medium })},
	"total_g": {Label: "Mass with the box, g", Sort: Number, enter: grams(func(e *book.Entry) **float64 { return &e.TotalG })},
	"water_g": {Label: "Water, g (the same in ml)", Sort: Number, enter: grams(func(e *book.Entry) **float64 { return &e.WaterG })},
	"dry_g":   {Label: "Dry medium, g", Sort: Number, enter: grams(func(e *book.Entry) **float64 { return &e.DryG })},

	"egg":       {Label: "Egg", Sort: Pick, Must: true, None: "No egg waits.", Adds: Found, options: Desk.waitingEggs, enter: text(eggOf)},
	"hatchling": {Label: "Hatchling", Sort: Pick, Must: true, None: "No hatchling is in the book.", Adds: "hatched", entryField: "egg", options: Desk.livingHatchlings, enter: text(eggOf)},
	"verdict": {
		Label: "Verdict", Sort: Pick, Must: true, fixed: verdicts,
		enter: func(e *book.Entry, a answer) error {
			if !slices.Contains(Values(verdicts), a.text) {
				return usererr.New(fmt.Sprintf("%q is no verdict; it is fertile, infertile, slug or unsure", a.text))
			}
			e.Verdict = a.text
			return nil
		},
	},
	"every":  {Label: "Verdict of all eggs", Sort: Pick, entryField: "verdict", fixed: verdicts},
	"what":   {Label: "What", Sort: Pick, Must: true, fixed: plain(book.Fed, book.Shed, book.Weighed, book.Died), enter: text(func(e *book.Entry) *string { return &e.What })},
	"mass_g": {Label: "Mass, g", Sort: Number, enter: grams(func(e *book.Entry) **float64 { return &e.MassG })},
	"why":    {Label: "Why", enter: text(func(e *book.Entry) *string { return &e.Why })},
	"text":   {Label: "Note", Sort: Long, Must: true, enter: text(func(e *book.Entry) *string { return &e.Text })},
	"about":  {Label: "About (a dam, a box, an egg)", enter: text(func(e *book.Entry) *string { return &e.About })},
}

var verdicts = []Option{{book.Fertile, "fertile"}, {book.Infertile, "infertile"}, {book.Slug, "slug"}, {"unsure", "cannot tell"}}

// sinceLook answers that eggs may have been laid since the dam's last look, or since
// firstLook before they were found where no look of hers is noted. noProbe answers that a
// box has no probe of its own.
const (
	sinceLook = "look"
	noProbe   = ""
)

// sinceEither words the usual answer where some dams have a look in the book.
const sinceEither = "since the last look, or within a week where none is noted"

// firstLook is how old eggs may be whose dam has no look in the book. Our choice: whoever
// breeds looks into a lay box at least once a week.
const firstLook = 7 * 24 * time.Hour

// sinceOptions are the answers to since when eggs may have been laid; look words the first.
func sinceOptions(look string) []Option {
	return []Option{{sinceLook, look}, {"24h", "within a day"}, {"72h", "within 3 days"}, {"168h", "within a week"}}
}

func plain(names ...string) []Option {
	var all []Option
	for _, n := range names {
		all = append(all, Option{n, n})
	}
	return all
}

func boxOf(e *book.Entry) *string { return &e.Box }
func eggOf(e *book.Entry) *string { return &e.Egg }

// text puts an answer into an entry as it is.
func text(field func(*book.Entry) *string) func(*book.Entry, answer) error {
	return func(e *book.Entry, a answer) error {
		*field(e) = a.text
		return nil
	}
}

// grams puts a mass into an entry, where one is given.
func grams(field func(*book.Entry) **float64) func(*book.Entry, answer) error {
	return func(e *book.Entry, a answer) error {
		if a.text == "" {
			return nil
		}
		g, ok := number(a.text)
		if !ok {
			return usererr.New(fmt.Sprintf("%q is no mass; write grams, like 112.5", a.text))
		}
		*field(e) = &g
		return nil
	}
}

// number reads a finite number with a point or a comma before its decimals.
func number(text string) (float64, bool) {
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	return v, err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}

// difference reads a difference of temperature and gives it in kelvin; nil for none.
// Its unit may stand behind it.
func difference(text string, units words.Units) (*float64, error) {
	if text == "" {
		return nil, nil
	}
	figure := text
	for suffix, u := range map[string]words.Units{"F": words.Fahrenheit, "C": words.Celsius} {
		if rest, ok := strings.CutSuffix(strings.ToUpper(figure), suffix); ok {
			figure, units = strings.TrimRight(rest, " °"), u
		}
	}
	v, ok := number(figure)
	if !ok {
		return nil, usererr.New(fmt.Sprintf("%q is no difference of temperature; write degrees, like 0.5 or -0.5", text))
	}
	most := float64(book.MaxOffsetK)
	if units == words.Fahrenheit {
		most *= sensor.PerKelvin
	}
	if math.Abs(v) > most {
		return nil, usererr.New(fmt.Sprintf("%q is more than a box may differ from its probe or its place; write at most %g degrees", text, most))
	}
	if units == words.Fahrenheit {
		v /= sensor.PerKelvin
	}
	return &v, nil
}
