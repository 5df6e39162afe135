package main

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/thermal/book"
)

// Every form of the page can be noted from the command line, through the station
// that runs and without one, with the page's own usual answers; what is left out
// is named with what may be chosen.
func TestEveryFormFromTheCommandLine(t *testing.T) {
	t.Parallel()
	config, _, listen := small(t)
	r := &eggRoom{t: t, config: config, listen: listen}
	note := func(args ...string) outcome {
		return do(t, "", append([]string{"book", "note", "--config", config}, args...)...)
	}
	steps := []struct {
		args []string
		want string // in the last entries noted
	}{
		{[]string{"dam", "--name", "Sorrel", "--profile", "crested gecko", "--at", "2026-04-01T08:00"}, `"entry":"dam","dam":"Sorrel","profile":"crested gecko"`},
		{[]string{"box", "--box", "B1", "--medium", "vermiculite", "--dry-g", "40", "--total-g", "112,5", "--at", "2026-04-01T08:00:00Z"}, `"box":"B1","zone":"room","medium":"vermiculite","dry_g":40,"total_g":112.5`},
		{[]string{"box", "--box", "B2"}, `"box":"B2","zone":"room"`},
		{[]string{"pairing", "--dam", "Sorrel", "--sire", "Juniper"}, `"entry":"pairing","dam":"Sorrel","sire":"Juniper"`},
		{[]string{"looked", "--dam", "Sorrel", "--at", "2026-04-02T08:00"}, `"at":"2026-04-02T08:00:00Z","entry":"looked","dam":"Sorrel","found":false`},
		{[]string{"found", "--dam", "Sorrel", "--eggs", "3", "--box", "B1", "--at", "2026-04-05T08:00"}, `"clutch":"C2","dam":"Sorrel","eggs":3,"laid_after":"2026-04-02T08:00:00Z","laid_by":"2026-04-05T08:00:00Z"`},
		{[]string{"placed", "--egg", "P1-1", "--box", "B2", "--slot", "z"}, `"entry":"placed","egg":"P1-1","box":"B2","slot":"z"`},
		{[]string{"lost", "--egg", "P1-1"}, `"entry":"lost","egg":"P1-1"`},
		{[]string{"candled", "--egg", "C2-1", "--verdict", "fertile"}, `"entry":"candled","egg":"C2-1","verdict":"fertile"`},
		{[]string{"box-candled", "--box", "B1", "--every", "fertile"}, `"entry":"candled","egg":"C2-3","verdict":"fertile"`},
		{[]string{"weighed", "--box", "B1", "--total-g", "108.5"}, `"entry":"weighed","box":"B1","total_g":108.5`},
		{[]string{"watered", "--box", "B1", "--water-g", "4"}, `"entry":"watered","box":"B1","water_g":4`},
		{[]string{"moved", "--box", "B1", "--probe", "shelf", "--offset", "-0.9f"}, `"entry":"moved","box":"B1","zone":"room","probe":"shelf","offset_k":-0.5`},
		{[]string{"egg-moved", "--egg", "C2-2", "--box", "B2", "--slot", "a"}, `"entry":"moved","egg":"C2-2","box":"B2","slot":"a"`},
		{[]string{"pipped", "--egg", "C2-1"}, `"entry":"pipped","egg":"C2-1"`},
		{[]string{"hatched", "--egg", "C2-1", "--mass-g", "1.9"}, `"entry":"hatched","egg":"C2-1","mass_g":1.9`},
		{[]string{"lost", "--egg", "C2-2", "--why", "mould"}, `"entry":"lost","egg":"C2-2","why":"mould"`},
		{[]string{"hatchling", "--hatchling", "C2-1", "--what", "shed"}, `"entry":"hatchling","egg":"C2-1","what":"shed"`},
		{[]string{"note", "--text", "a dent", "--about", "C2-1"}, `"entry":"note","about":"C2-1","text":"a dent"`},
		{[]string{"dam", "--name", "Tansy"}, `"entry":"dam","dam":"Tansy"`},
		{[]string{"amended", "--dam", "Tansy", "--name", "Tansie", "--profile", "leopard gecko"}, `"entry":"amended","dam":"Tansy","profile":"leopard gecko","name":"Tansie"`},
		{[]string{"clutch-amended", "--clutch", "C2", "--profile", "crested gecko"}, `"entry":"amended","clutch":"C2","profile":"crested gecko"`},
		{[]string{"rested", "--dam", "Sorrel"}, `"entry":"rested","dam":"Sorrel"`},
		{[]string{"retired", "--dam", "Tansie"}, `"entry":"retired","dam":"Tansie"`},
		{[]string{"emptied", "--box", "B2"}, `"entry":"emptied","box":"B2"`},
	}
	var used []string
	for i, s := range steps {
		if i == 3 {
			r.start() // from here on through the station
			unplaced := `{"key":"p1","at":"2026-04-02T08:00:00Z","entry":"clutch","clutch":"P1","dam":"Sorrel","eggs":1,"laid_after":"2026-04-01T09:00:00Z","laid_by":"2026-04-02T08:00:00Z"}`
			if got := do(t, unplaced, "book", "add", "--config", config); got.code != 0 {
				t.Fatalf("%d: %s", got.code, got.errout)
			}
		}
		got := note(append(s.args, "--json")...)
		if got.code != 0 || !strings.Contains(got.out, s.want) || !strings.HasPrefix(got.errout, "Noted: ") {
			t.Fatalf("%v: %d: %s%s, want %s", s.args, got.code, got.out, got.errout, s.want)
		}
		used = append(used, s.args[0])
	}
	for _, f := range forms.All() {
		if !slices.Contains(used, f.Kind) {
			t.Errorf("the form %s is not tried", f.Kind)
		}
	}

	// Noted twice under one key, it is there once.
	for range 2 {
		if got := note("note", "--key", "mine", "--text", "once", "--at", "2026-04-06T08:00"); got.code != 0 {
			t.Errorf("%d: %s", got.code, got.errout)
		}
	}
	if n := strings.Count(do(t, "", "book", "list", "--config", config).out, `"key":"mine"`); n != 1 {
		t.Errorf("one key is in the book %d times", n)
	}

	if got := note("box", "--box", "B3"); got.code != 0 {
		t.Errorf("%d: %s", got.code, got.errout)
	}
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{}, 2, "needs a form: dam, "},
		{[]string{"fond"}, 2, `no form "fond"`},
		{[]string{"dam", "--name", "Yarrow"}, 2, "dam needs --profile (ball python, "},
		{[]string{"candled"}, 2, "candled needs --verdict (fertile, infertile, slug, unsure)"},
		{[]string{"candled", "--egg", "C2-3", "--verdict", "fertil"}, 2, `"fertil" is no verdict`},
		{[]string{"box", "--box", ".."}, 1, `".." is no name`},
		{[]string{"rested", "--dam", "Nobody"}, 1, "Nobody"},
		{[]string{"weighed", "--box", "B1"}, 2, "needs --total-g"},
		{[]string{"weighed", "--box", "B1", "--total-g", "heavy"}, 2, `"heavy" is no mass`},
		{[]string{"looked", "--dam", "Sorrel", "--at", "yesterday"}, 2, `"yesterday" is no time`},
		{[]string{"hatched", "--egg", "C2-1"}, 1, "nothing was noted: --egg: C2-1 hatched already (entry c-"},
		{[]string{"found", "--dam", "Sorrel"}, 2, "found needs --box (B1, B3)"},
		{[]string{"found", "--dam", "Sorrel", "--box", "B9"}, 2, "box B9 is not in the book; set it up first: ootherm book note box --box B9"},
		{[]string{"found", "--dam", "Sorel", "--box", "B1"}, 2, "Sorel is not in the book. Did you mean Sorrel?"},
		{[]string{"found", "--dam", "Nobody", "--box", "B1"}, 2, "Nobody is not in the book; note her first: ootherm book note dam --name Nobody"},
		{[]string{"found", "--box", "B1"}, 1, "no dam is named"},
	} {
		if got := note(c.args...); got.code != c.code || got.out != "" || !strings.Contains(got.errout, c.want) {
			t.Errorf("%v: %d: %q, want %d and %q", c.args, got.code, got.errout, c.code, c.want)
		}
	}
	r.complete()
	r.sure()
	r.undo()
}

// sure notes what is hardly meant, once that is said.
func (r *eggRoom) sure() {
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"hatchling", "--hatchling", "C2-1", "--what", "weighed", "--mass-g", "1900"}, "1900 g for the hatchling of C2-1? It weighed 1.9 g before."},
		{[]string{"hatched", "--egg", "C2-3", "--mass-g", "1900"}, "1900 g for the hatchling of C2-3? An egg of a crested gecko weighs 1 to 3 g."},
		{[]string{"weighed", "--box", "B1", "--total-g", "1085"}, "1085 g for box B1? It weighed 108.5 g before."},
	} {
		args := append([]string{"book", "note", "--config", r.config}, c.args...)
		before := do(r.t, "", "book", "list", "--config", r.config).out
		if got := do(r.t, "", args...); got.code != 1 || got.out != "" || !strings.Contains(got.errout, c.says) || !strings.Contains(got.errout, "Nothing was noted. If it is right, say so with --sure.") {
			r.t.Errorf("%v: %+v, want %q", c.args, got, c.says)
		}
		if do(r.t, "", "book", "list", "--config", r.config).out != before {
			r.t.Errorf("%v: it was noted all the same", c.args)
		}
		got := do(r.t, "", append(args, "--sure")...)
		if got.code != 0 || !strings.HasPrefix(got.errout, "Noted: ") {
			r.t.Errorf("%v --sure: %+v", c.args, got)
		}
	}
	if got := do(r.t, "", "book", "note", "note", "--config", r.config, "--text", "x", "--sure"); got.code != 2 {
		r.t.Errorf("a form that asks nothing takes --sure: %+v", got)
	}
}

// complete holds what a shell is offered.
func (r *eggRoom) complete() {
	for _, c := range []struct {
		args []string
		want []string
	}{
		{[]string{"book", "note", "ha"}, []string{"hatched\tHatched", "hatchling\tHatchling"}},
		{[]string{"book", "note", "found", "--config", r.config, "--dam", ""}, []string{"Sorrel\tSorrel, last look "}},
		{[]string{"book", "note", "weighed", "--config", r.config, "--box", "B"}, []string{"B1\tB1, 1 egg", "B3\tB3, 0 eggs"}},
		{[]string{"book", "note", "candled", "--config", r.config, "--egg", ""}, []string{"C2-3\tC2-3, Sorrel, box B1 slot c"}},
		{[]string{"book", "note", "candled", "--verdict", "s"}, []string{"slug\tslug"}},
		{[]string{"book", "note", "candled", "--egg", ""}, nil}, // whose? no station is named
		{[]string{"alarms", "--config", r.config, "--off", ""}, []string{"room"}},
		{[]string{"labels", "--config", r.config, "--box", "B"}, []string{"B1\t1 egg", "B3\t0 eggs"}},
		{[]string{"book", "medium", "--config", r.config, "--box", "B"}, []string{"B1", "B3"}},
		{[]string{"incident", "--config", r.config, "--zone", "r"}, []string{"room"}},
		{[]string{"calibrate", "--config", r.config, ""}, []string{"shelf\troom"}},
		{[]string{"calibrate", "--config", r.config, "shelf", ""}, nil},
		{[]string{"review", "--config", r.config, "--dam", "So"}, []string{"Sorrel"}},
		{[]string{"book", "undo", "--config", r.config, "min"}, []string{"mine\tA note: once"}},
	} {
		got := do(r.t, "", append([]string{"__complete"}, c.args...)...)
		lines := strings.Split(strings.TrimSpace(got.out), "\n")
		lines = slices.DeleteFunc(lines, func(s string) bool { return strings.HasPrefix(s, ":") })
		same := len(lines) == len(c.want)
		for i := range min(len(lines), len(c.want)) {
			same = same && strings.HasPrefix(lines[i], c.want[i])
		}
		if got.code != 0 || !same {
			r.t.Errorf("%v completes to %q, want %q", c.args, lines, c.want)
		}
	}
	for shell, want := range map[string]string{"bash": "__start_ootherm", "zsh": "#compdef ootherm", "fish": "complete -c ootherm"} {
		if got := do(r.t, "", "completion", shell); got.code != 0 || !strings.Contains(got.out, want) {
			r.t.Errorf("no completion for %s: %d", shell, got.code)
		}
	}
}

// undo takes eggs found back with their places, once nothing hangs on them.
func (r *eggRoom) undo() {
	list := do(r.t, "", "book", "list", "--config", r.config).out
	entries, err := book.ReadAll(bytes.NewBufferString(list))
	if err != nil {
		r.t.Fatal(err)
	}
	key := ""
	for _, e := range entries {
		if e.Kind == book.KindClutch {
			key = e.Key
		}
	}
	if got := do(r.t, "", "book", "undo", "--config", r.config, key); got.code != 1 || !strings.Contains(got.errout, "nothing was noted") {
		r.t.Errorf("a clutch with a hatchling was undone: %d: %s", got.code, got.errout)
	}
	for _, e := range slices.Backward(entries) {
		if e.Kind == book.KindDam || strings.Contains(e.Key, ".") {
			continue
		}
		if got := do(r.t, "", "book", "undo", "--config", r.config, e.Key); got.code != 0 || !strings.HasPrefix(got.errout, "Undone: ") {
			r.t.Errorf("undoing %s: %d: %s", e.Key, got.code, got.errout)
		}
		if e.Key == key {
			break
		}
	}
	if got := do(r.t, "", "book", "undo", "--config", r.config, key); got.code != 1 || !strings.Contains(got.errout, "undone already") {
		r.t.Errorf("undone twice: %d: %s", got.code, got.errout)
	}
}
