package prompt

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
)

// Degrees accepts the common ways to write a temperature, and refuses the rest.
func TestDegrees(t *testing.T) {
	for text, want := range map[string]float64{"74": 74, "74.5": 74.5, "74,5": 74.5, "74F": 74, "74 f": 74, "74 °F": 74, "74°": 74, "-0,2": -0.2} {
		if got, err := Degrees(text, "F"); err != nil || got != want {
			t.Errorf("%q is %v, %v; want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "warm", "23C", "1,000.5", "7 4"} {
		if got, err := Degrees(text, "F"); err == nil || !math.IsNaN(got) {
			t.Errorf("%q is taken for %v", text, got)
		}
	}
}

// Enter alone takes the usual answer; another answer is asked for again.
func TestYesAndNo(t *testing.T) {
	for answers, want := range map[string][2]bool{"": {false, true}, "y": {true, true}, "No": {false, false}, "perhaps\nYES": {true, true}} {
		for i, ask := range []func(*Session, string) (bool, error){(*Session).Yes, (*Session).YesUnlessRefused} {
			s := New(t.Context(), benchtest.Script(t, strings.Split(answers, "\n")...), new(strings.Builder))
			if got, err := ask(s, "Write it"); err != nil || got != want[i] {
				t.Errorf("%q to question %d is %v, %v; want %v", answers, i, got, err, want[i])
			}
		}
	}
}

// Ctrl-C at a question ends its line, so that the next message starts on a new one.
func TestCtrlCEndsItsLine(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	var out strings.Builder
	s := New(ctx, &benchtest.Person{T: t}, &out)
	if _, err := s.Ask("Why"); !errors.Is(err, ErrStopped) || out.String() != "Why: \n" {
		t.Errorf("%v after %q", err, out.String())
	}
}

// The answer < asks the question before again. Refused answers to either are forgotten, and
// the questions before them are not shown again.
func TestBack(t *testing.T) {
	var out strings.Builder
	s := New(t.Context(), benchtest.Script(t, "<", "one", "perhaps", "y", "<", "no", "<", "maybe", "<", "<", "two", "y", "z"), &out)
	var name, last string
	var sure bool
	err := s.WithBack(func() (err error) {
		if name, err = s.Ask("Name"); err != nil {
			return err
		}
		if sure, err = s.Yes("Sure"); err != nil {
			return err
		}
		s.Say("Thank you.")
		last, err = s.Ask("Last")
		return err
	})
	if err != nil || name != "two" || !sure || last != "z" {
		t.Errorf("%q, %v, %q, %v after\n%s", name, sure, last, err, out.String())
	}
	want := "Name: This is the first question.\nName: Sure [y/N]: \"perhaps\" is neither y nor n.\n" +
		"Sure [y/N]: Thank you.\nLast: Sure [y/N]: Thank you.\n" + // back, then no
		"Last: Sure [y/N]: \"maybe\" is neither y nor n.\nSure [y/N]: " + // back, then maybe
		"Name: This is the first question.\nName: Sure [y/N]: Thank you.\nLast: "
	if out.String() != want {
		t.Errorf("shown:\n%s\nwant:\n%s", out.String(), want)
	}
	if _, err := s.Ask("After"); err == nil {
		t.Error("an answer came from nowhere")
	}
}
