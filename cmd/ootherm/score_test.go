package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

const testdata = "../../testdata/"

// ask runs a command and gives what it printed on standard output.
func ask(t *testing.T, c *cobra.Command, args ...string) (string, error) {
	t.Helper()
	var out bytes.Buffer
	c.SetOut(&out)
	c.SetErr(new(bytes.Buffer))
	c.SilenceErrors, c.SilenceUsage = true, true
	c.SetArgs(args)
	err := c.ExecuteContext(t.Context())
	return out.String(), err
}

// The figures a program reads are ratios, of the model that was asked for, and as
// good as this model is known to be.
func TestScoreAsJSON(t *testing.T) {
	for _, model := range []string{"curve", "degree-days"} {
		plot := filepath.Join(t.TempDir(), "plot.svg")
		out, err := ask(t, scoreCommand(), "--durations", testdata+"incubation/durations.csv", "--model", model, "--plot", plot, "--json")
		if err != nil {
			t.Fatal(err)
		}
		var got struct {
			Protocols map[string]map[string]float64            `json:"protocols"`
			Clades    map[string]map[string]map[string]float64 `json:"clades"`
			Rows      []map[string]any                         `json:"rows"`
		}
		if err := json.Unmarshal([]byte(out), &got); err != nil {
			t.Fatal(err)
		}
		for _, want := range []struct {
			protocol         string
			err, least, wide float64
		}{{"family", 0.18, 0.78, 0.92}, {"one", 0.052, 0.78, 0.29}, {"rest", 0.035, 0.78, 0.19}} {
			p := got.Protocols[want.protocol]
			if p["n"] != 650 {
				t.Errorf("%s: %g rows, want 650", want.protocol, p["n"])
			}
			if model == "curve" && (p["median_ape"] > want.err || p["within_80"] < want.least || p["within_80"] > 0.86 || p["width_80"] > want.wide) {
				t.Errorf("%s: %v, want an error of at most %g, %g to 0.86 inside, at most %g wide", want.protocol, p, want.err, want.least, want.wide)
			}
		}
		if g := got.Clades["geckos"]["one"]; g["n"] != 21 || g["log_score"] == 0 || len(got.Clades) != 5 {
			t.Errorf("clades: %v", got.Clades)
		}
		if len(got.Rows) < 3*650 {
			t.Errorf("%d predictions, want one a row and protocol at least", len(got.Rows))
		}
		if drawn, err := os.ReadFile(plot); err != nil || strings.Count(string(drawn), "<circle") != len(got.Rows) {
			t.Errorf("the drawing has %d points of %d, %v", strings.Count(string(drawn), "<circle"), len(got.Rows), err)
		}
	}
}

// A person sees both models side by side, whichever was asked for, and that one by clade.
func TestScoreShowsBothModels(t *testing.T) {
	out, err := ask(t, scoreCommand(), "--durations", testdata+"incubation/durations.csv")
	if err != nil {
		t.Fatal(err)
	}
	all, clades, ok := strings.Cut(out, "By clade, curve:")
	if !ok || strings.Count(clades, "turtles") != 3 || strings.Count(clades, "geckos") != 3 || !strings.Contains(clades, "log score") {
		t.Errorf("by clade it is:\n%s", clades)
	}
	if n := strings.Count(all, " curve "); n != 3 || strings.Count(all, "degree-days") != 3 {
		t.Errorf("the curve stands in %d lines, want both models in three each:\n%s", n, out)
	}
}

// The manual says of each group of reptiles what the command measures.
func TestAccuracyTopic(t *testing.T) {
	text, err := os.ReadFile("internal/manual/topics/accuracy.md")
	if err != nil {
		t.Fatal(err)
	}
	out, err := ask(t, scoreCommand(), "--durations", testdata+"incubation/durations.csv", "--json")
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Protocols map[string]map[string]float64
		Clades    map[string]map[string]map[string]float64
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	for _, clade := range []string{"turtles", "geckos", "other squamates", "crocodilians"} {
		of := got.Clades[clade]
		line := fmt.Sprintf("| %s | %.0f |", clade, of["family"]["n"])
		for _, knowing := range []string{"family", "one", "rest"} {
			line += fmt.Sprintf(" %.1f %% | %.0f %% |", 100*of[knowing]["median_ape"], 100*of[knowing]["within_80"])
		}
		if !strings.Contains(string(text), line) {
			t.Errorf("the topic lacks %q", line)
		}
	}
	for _, knowing := range []string{"family", "one", "rest"} {
		of := got.Protocols[knowing]
		line := fmt.Sprintf("| curve | %.1f %% | %.0f %% | %.0f %% |", 100*of["median_ape"], 100*of["within_80"], 100*of["width_80"])
		if !strings.Contains(string(text), line) {
			t.Errorf("the topic lacks %q", line)
		}
	}
}

// What is asked wrongly is told apart from what is wrong with the table.
func TestScoreSaysWhatIsWrong(t *testing.T) {
	table := filepath.Join(t.TempDir(), "bad.csv")
	const head = "study,order,family,species,temperature_c,duration_days\n"
	for _, c := range []struct {
		table   string
		args    []string
		isUsage bool
		says    string
	}{
		{"", nil, true, "needs --durations"},
		{"", []string{"--book", "--config", "x", "--durations", table}, true, "alone"},
		{head, []string{"--durations", table, "--model", "guess"}, true, "no model"},
		{head + "1,Squamata,Agamidae,A b,warm,60\n", []string{"--durations", table}, false, "line 2"},
		{head + "1,Squamata,Agamidae,A b,28,60\n", []string{"--durations", table, "--json"}, false, "no species has two"},
	} {
		if err := os.WriteFile(table, []byte(c.table), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := ask(t, scoreCommand(), c.args...)
		if err == nil || !strings.Contains(err.Error(), c.says) || usererr.IsUsage(err) != c.isUsage || out != "" {
			t.Errorf("%v: %v beside %q, want %q (wrong usage: %t)", c.args, err, out, c.says, c.isUsage)
		}
	}
}

// The windows of a station whose book is still empty are judged: there are none,
// and no share is made up.
func TestScoreOfAnEmptyBook(t *testing.T) {
	dir := t.TempDir()
	config := filepath.Join(dir, "ootherm.toml")
	text := fmt.Sprintf(`
[station]
name = "egg room"
data = %q
[[probe]]
name   = "shelf"
driver = "simulated"
[[zone]]
name   = "room"
kind   = "room"
probes = ["shelf"]
`, filepath.Join(dir, "data"))
	if err := errors.Join(os.Mkdir(filepath.Join(dir, "data"), 0o750), os.WriteFile(config, []byte(text), 0o600)); err != nil {
		t.Fatal(err)
	}
	out, err := command(t.Context(), "score", "--book", "--config", config, "--json").Output()
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Hatches *int
		Ways    []struct {
			Way    float64
			N      int
			Inside *float64
		}
	}
	if err := json.Unmarshal(out, &got); err != nil || got.Hatches == nil || *got.Hatches != 0 || len(got.Ways) != 4 {
		t.Fatalf("%s, %v", out, err)
	}
	for _, w := range got.Ways {
		if w.N != 0 || w.Inside != nil {
			t.Errorf("%+v of no hatch", w)
		}
	}
	if out, err := command(t.Context(), "score", "--book", "--config", config).Output(); err != nil || !strings.Contains(string(out), "No egg has hatched yet") {
		t.Errorf("%q, %v", out, err)
	}
}

// All twelve published columns of a year of daily extremes, through the command.
func TestDegreeDaysAsPublished(t *testing.T) {
	const table = testdata + "degree-days/daily-degree-days.csv"
	f, err := os.Open(table)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	shapes := map[string]string{"sngsine": "single-sine", "dblsine": "double-sine", "sngtri": "single-triangle", "dbltri": "double-triangle"}
	cuts := map[string]string{"horiz": "horizontal", "vert": "vertical", "intrmd": "intermediate"}
	seen := 0
	for column, name := range rows[0][3:] {
		shape, cut, _ := strings.Cut(name, "_")
		out, err := ask(t, degreeDaysCommand(), "--readings", table, "--fahrenheit", "--base", "50F", "--upper", "70F",
			"--min-column", "tmin", "--max-column", "tmax", "--method", shapes[shape], "--cut-off", cuts[cut], "--json")
		if err != nil {
			t.Fatal(err)
		}
		var days []struct {
			Date       string
			DegreeDays float64 `json:"degree_days"`
			SoFar      float64 `json:"so_far"`
		}
		if err := json.Unmarshal([]byte(out), &days); err != nil {
			t.Fatal(err)
		}
		if len(days) != len(rows)-1 {
			t.Fatalf("%s: %d days, want %d", name, len(days), len(rows)-1)
		}
		sum := 0.0
		for i, d := range days {
			want, err := strconv.ParseFloat(rows[i+1][column+3], 64)
			if err != nil {
				t.Fatal(err)
			}
			sum += d.DegreeDays
			if math.Abs(d.DegreeDays-want) > 0.006 || math.Abs(d.SoFar-sum) > 1e-6 || d.Date != rows[i+1][0] {
				t.Fatalf("%s: %+v, want %g of %s", name, d, want, rows[i+1][0])
			}
		}
		seen++
	}
	if seen != 12 {
		t.Errorf("%d columns, want 12", seen)
	}
}

// A bad line, swapped columns or thresholds the wrong way round are named.
func TestDegreeDaysSaysWhatIsWrong(t *testing.T) {
	table := filepath.Join(t.TempDir(), "days.csv")
	for _, c := range []struct{ table, base, method, says string }{
		{"date,min,max\nd1,10,20\nd2,,20\n", "10C", "single-sine", "line 3, column min"},
		{"date,min,max\nd1,20,10\n", "10C", "single-sine", "swapped"},
		{"date,low,high\n", "10C", "single-sine", `column "min" is missing`},
		{"", "10C", "single-sine", "is empty"},
		{"date,min,max\n", "40C", "single-sine", "not below"},
		{"date,min,max\n", "10", "single-sine", "no unit"},
		{"date,min,max\n", "10C", "average", "none of single-sine"},
	} {
		if err := os.WriteFile(table, []byte(c.table), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := ask(t, degreeDaysCommand(), "--readings", table, "--base", c.base, "--upper", "30C", "--method", c.method)
		if err == nil || !strings.Contains(err.Error(), c.says) || out != "" {
			t.Errorf("%q: %v beside %q, want %q", c.table, err, out, c.says)
		}
	}
	if err := os.WriteFile(table, []byte("date,min,max\nd1,10,20\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := ask(t, degreeDaysCommand(), "--readings", table, "--base", "50F", "--upper", "30C")
	if want := "date,degree_days_c,so_far_c\nd1,5.000,5.000\n"; err != nil || out != want {
		t.Errorf("%q, %v; want %q", out, err, want)
	}
}
