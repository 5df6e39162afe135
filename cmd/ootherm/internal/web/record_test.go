package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// recordLines are entries of two seasons: pairings, a finished clutch, one that waits, a box
// that was emptied, a hatchling that was weighed, notes.
const recordLines = oneHatched + `
{"key":"p1","at":"2026-04-02T08:00:00Z","entry":"pairing","dam":"Sorrel","sire":"Juniper"}
{"key":"b9","at":"2025-03-01T08:00:00Z","entry":"box","box":"Old box","zone":"room","probe":"shelf"}
{"key":"b8","at":"2025-02-01T08:00:00Z","entry":"box","box":"Older box","zone":"attic","probe":"spare"}
{"key":"t","at":"2025-02-01T08:00:00Z","entry":"dam","dam":"Tansy","profile":"crested gecko"}
{"key":"o","at":"2025-03-20T08:00:00Z","entry":"clutch","clutch":"T0","dam":"Tansy","eggs":1,"laid_after":"2025-03-19T08:00:00Z","laid_by":"2025-03-20T08:00:00Z"}
{"key":"o.1","at":"2025-03-20T08:00:00Z","entry":"placed","egg":"T0-1","box":"Old box","slot":"a"}
{"key":"o2","at":"2025-06-20T08:00:00Z","entry":"lost","egg":"T0-1","why":"mould all over"}
{"key":"o3","at":"2025-06-21T08:00:00Z","entry":"emptied","box":"Old box"}
{"key":"w1","at":"2026-06-05T08:00:00Z","entry":"weighed","box":"B1","total_g":108}
{"key":"k1","at":"2026-05-12T08:00:00Z","entry":"candled","egg":"S1-2","verdict":"fertile"}
{"key":"g1","at":"2026-06-09T08:00:00Z","entry":"hatchling","egg":"S1-1","what":"weighed","mass_g":2.1}
{"key":"g0","at":"2026-06-08T20:00:00Z","entry":"hatchling","egg":"S1-1","what":"weighed","mass_g":1.9}
{"key":"n1","at":"2026-06-06T08:00:00Z","entry":"note","text":"a dent below","about":"egg S1-2"}
{"key":"n2","at":"2026-06-06T09:00:00Z","entry":"note","text":"the shelf was wiped"}
{"key":"cal","at":"2026-03-01T09:00:00Z","entry":"calibrated","probe":"shelf","points":[{"reference_c":0,"read_c":0.2}]}`

// recordDesk is a station with the book of recordLines.
func recordDesk(t *testing.T) (*desk, http.Handler) {
	t.Helper()
	return bookDesk(t, recordLines)
}

// The search finds every name that the book or the station knows, those of finished clutches
// and of past seasons too, and each leads to a page that is there.
func TestSearchFindsEveryName(t *testing.T) {
	_, h := recordDesk(t)
	for asked, want := range map[string]string{
		"t0": "/c/T0", "S1": "/c/S1", "sorrel": "/d/Sorrel", "TANSY": "/d/Tansy", "junip": "/s/Juniper", "old  box": "/b/Old%20box", "b1": "/b/B1",
		"S1-2": "/e/S1-2", "s1-1": "/e/S1-1", "T0-1": "/e/T0-1", "incub": "/z/incubator", "dummy": "/p/dummy-box", "attic": "/z/attic", "spare": "/p/spare", "mould": "/e/T0-1", "dent": "/e/S1-2", "wiped": "/noted",
	} {
		links := elementsOf(t, get(h, "/search?"+url.Values{"q": {asked}}.Encode())).find("ul", "class=hits")
		found := false
		for _, list := range links {
			for href := range list.inside.links() {
				found = found || href == want
				if w := get(h, href); w.Code != http.StatusOK {
					t.Errorf("%q leads to %s: status %d", asked, href, w.Code)
				}
			}
		}
		if !found {
			t.Errorf("%q does not lead to %s: %v", asked, want, links.texts())
		}
	}
	for _, none := range []string{"", "%20", "zzz", strings.Repeat("x", 5000), "<b>", "%ff%fe"} {
		w := get(h, "/search?q="+none)
		if page := elementsOf(t, w); w.Code != http.StatusOK || page.has("ul", "class=hits") || !page.has("input", "name=q") {
			t.Errorf("%.20q: status %d, %s", none, w.Code, w.Body)
		}
	}
	o := options(season())
	if links := elementsOf(t, get(handler(t, o), "/search?q=s1")).links(); links["/c/S1"] == "" {
		t.Errorf("without a book it finds %v", links)
	}
}

// Every entry that was noted is on a page of a thing, and on one part of all that was noted,
// from where it can be undone.
func TestNothingNotedIsOutOfReach(t *testing.T) {
	d, h := recordDesk(t)
	for i := range 20 {
		d.add(t, fmt.Sprintf(`{"key":"m%d","at":"2026-06-0%dT09:00:00Z","entry":"note","text":"fine","about":"S1"}`, i, 1+i%8))
	}
	reach := map[string]bool{}
	for _, target := range []string{"/noted?page=1", "/noted?page=2"} {
		for _, in := range elementsOf(t, get(h, target)).find("input", "name=undo") {
			if reach[in.attrs["value"]] {
				t.Errorf("%s is listed twice", in.attrs["value"])
			}
			reach[in.attrs["value"]] = true
		}
	}
	part := map[string]bool{"c.1": true, "c.2": true, "o.1": true} // undone with their clutch
	things := map[string]bool{}
	for _, target := range []string{"/c/S1", "/c/T0", "/b/B1", "/b/Old%20box", "/d/Sorrel", "/d/Tansy", "/s/Juniper", "/e/S1-1", "/e/S1-2", "/e/T0-1", "/p/shelf", "/z/room", "/z/attic", "/p/spare"} {
		w := get(h, target)
		if w.Code != http.StatusOK {
			t.Errorf("%s: status %d", target, w.Code)
		}
		for _, in := range elementsOf(t, w).find("input", "name=undo") {
			things[in.attrs["value"]] = true
		}
	}
	for e := range d.b.Arrived() {
		if !reach[e.Key] && !part[e.Key] {
			t.Errorf("%s %s is on no part of all that was noted", e.Key, e.Kind)
		}
		if !things[e.Key] && !part[e.Key] && e.Key != "n2" { // a note about nothing
			t.Errorf("%s %s is on no page of a thing", e.Key, e.Kind)
		}
	}
	if n := len(elementsOf(t, get(h, "/noted?page=99")).find("input", "name=undo")); n == 0 {
		t.Error("a part beyond the last is empty")
	}
	if links := elementsOf(t, get(h, "/note")).links(); links["/noted?page=2"] == "" {
		t.Errorf("the book does not lead to earlier entries: %v", links)
	}
}

// What was noted stands with the last first, by the day on which it was, and what is undone
// says so.
func TestPagesListTheLastFirst(t *testing.T) {
	d, h := recordDesk(t)
	order := func() (texts []string) {
		for _, li := range elementsOf(t, get(h, "/e/S1-1")).find("ul", "class=recent")[0].inside.find("li") {
			texts = append(texts, strings.Join(strings.Fields(li.text), " "))
		}
		return texts
	}
	want := []string{"Hatchling: S1-1, weighed, 2.1 g", "Hatchling: S1-1, weighed, 1.9 g", "Hatched: S1-1", "Eggs found: S1, Sorrel, 2 eggs"}
	got := order()
	if len(got) != len(want) {
		t.Fatalf("it lists %q", got)
	}
	for i := range want {
		if !strings.HasPrefix(got[i], want[i]) {
			t.Errorf("entry %d is %q, want %q", i, got[i], want[i])
		}
	}
	undo := undoIn(t, h, "/e/S1-1", "g1")
	if w := post(h, "/note", form, undo.Encode()); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/e/S1-1?noted=undone" {
		t.Fatalf("undo: status %d to %s: %s", w.Code, w.Header().Get("Location"), w.Body)
	}
	if e, _ := d.b.Egg("S1-1"); len(e.Hatchling) != 1 {
		t.Errorf("undone, it is %+v", e.Hatchling)
	}
	if got := order(); !strings.HasSuffix(got[0], "Undone.") {
		t.Errorf("what is undone is %q", got[0])
	}
	if done := elementsOf(t, get(h, "/e/S1-1?noted=undone")).find("div", "role=status"); len(done) != 1 || done[0].text != "Undone." {
		t.Errorf("it says %v", done.texts())
	}
}

// undoIn is the form of a page that undoes an entry.
func undoIn(t *testing.T, h http.Handler, target, key string) url.Values {
	t.Helper()
	for _, f := range elementsOf(t, get(h, target)).find("form") {
		if f.inside.has("input", "name=undo", "value="+key) {
			return f.inside.sent()
		}
	}
	t.Fatalf("%s offers no undo of %s", target, key)
	return nil
}

// All eggs of a box are candled in one form: one verdict for all but those that have their
// own. A failure stores nothing, a form sent twice is noted once, and one undo takes it back.
func TestAllEggsOfABoxCandled(t *testing.T) {
	d, h := bookDesk(t, twoEggs, `{"key":"x","at":"2026-05-01T08:00:00Z","entry":"clutch","clutch":"S2","dam":"Sorrel","eggs":1,"laid_after":"2026-04-30T08:00:00Z","laid_by":"2026-05-01T08:00:00Z"}
{"key":"x.1","at":"2026-05-01T08:00:00Z","entry":"placed","egg":"S2-1","box":"B1","slot":"c"}`)
	candling := func() url.Values {
		for _, f := range elementsOf(t, get(h, "/b/B1")).find("form", "action=/note/box-candled?send") {
			return f.inside.sent()
		}
		t.Fatal("the box's page has no form for all its eggs")
		return nil
	}
	verdicts := func() (all []string) {
		for _, id := range []string{"S1-1", "S1-2", "S2-1"} {
			e, _ := d.b.Egg(id)
			all = append(all, e.Verdict)
		}
		return all
	}
	f := candling()
	before := d.b.Len()
	if w := post(h, "/note/box-candled", form, f.Encode()); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "choose a verdict for all eggs, or one for each") {
		t.Errorf("without a verdict: status %d: %s", w.Code, w.Body)
	}
	f.Set("every", "fertile")
	f.Set("verdict S1-2", "slug")
	bad := url.Values{}
	for k, v := range f {
		bad[k] = v
	}
	bad.Set("at", "2026-04-25T08:00") // before S2 was laid
	if w := post(h, "/note/box-candled", form, bad.Encode()); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("one egg was not laid yet: status %d", w.Code)
	} else if sent := elementsOf(t, w).sent(); sent.Get("verdict S1-2") != "slug" || sent.Get("every") != "fertile" || sent.Get("box") != "B1" {
		t.Errorf("the form that came back has lost %v", sent)
	}
	if d.b.Len() != before || !slices.Equal(verdicts(), []string{"", "", ""}) {
		t.Fatalf("a refused form stored %v", verdicts())
	}
	for range 2 {
		if w := post(h, "/note/box-candled", form, f.Encode()); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/b/B1?noted" {
			t.Fatalf("status %d to %s: %s", w.Code, w.Header().Get("Location"), w.Body)
		}
	}
	if got := verdicts(); d.b.Len() != before+3 || !slices.Equal(got, []string{"fertile", "slug", "fertile"}) {
		t.Fatalf("%d entries more, verdicts %v", d.b.Len()-before, got)
	}
	w := get(h, "/b/B1?noted")
	done := elementsOf(t, w).find("div", "role=status")
	if len(done) != 1 || !strings.HasPrefix(done[0].text, "Noted: Candled: S1-1, fertile; S1-2, slug; S2-1, fertile.") {
		t.Fatalf("it says %v", done.texts())
	}
	if w := post(h, "/note", form, done[0].inside.sent().Encode()); w.Code != http.StatusSeeOther || !slices.Equal(verdicts(), []string{"", "", ""}) {
		t.Errorf("undo: status %d, %v", w.Code, verdicts())
	}
}

// The pages of the book lead from thing to thing.
func TestThingsLeadToOneAnother(t *testing.T) {
	_, h := recordDesk(t)
	for from, to := range map[string][]string{
		"/c/S1":             {"/d/Sorrel", "/e/S1-1", "/e/S1-2", "/b/B1"},
		"/e/S1-2":           {"/c/S1", "/b/B1"},
		"/b/B1":             {"/e/S1-1", "/p/dummy-box", "/c/S1"},
		"/d/Sorrel":         {"/c/S1", "/s/Juniper/Sorrel", "/review/Sorrel"},
		"/s/Juniper":        {"/s/Juniper/Sorrel"},
		"/s/Juniper/Sorrel": {"/d/Sorrel", "/s/Juniper", "/c/S1"},
		"/z/room":           {"/p/shelf"},
		"/p/shelf":          {"/z/room"},
	} {
		leads(t, get(h, from), to...)
	}
	for _, none := range []string{"/e/S9-1", "/e/x", "/d/Nobody", "/s/Nobody", "/s/Juniper/Tansy", "/p/none", "/z/none", "/b/none"} {
		if w := get(h, none); w.Code != http.StatusNotFound {
			t.Errorf("%s: status %d", none, w.Code)
		}
	}
}

// Whoever may not write sees what was noted and no form.
func TestRecordsWithoutForms(t *testing.T) {
	d, _ := recordDesk(t)
	o := options(season())
	o.Book = d
	h := handler(t, o)
	for _, target := range []string{"/e/S1-2", "/e/S1-1", "/d/Sorrel", "/s/Juniper", "/b/B1", "/p/shelf", "/z/room", "/noted"} {
		if all := elementsOf(t, get(h, target)); all.has("form", "method=post") || !all.has("ul", "class=recent") {
			t.Errorf("%s has forms, or not what was noted", target)
		}
	}
	for _, target := range []string{"/p/shelf", "/z/room"} {
		if w := get(handler(t, options(season())), target); w.Code != http.StatusOK || elementsOf(t, w).has("ul", "class=recent") {
			t.Errorf("%s without a book: status %d", target, w.Code)
		}
	}
}

// Hatchlings are listed, the youngest first; those that died or hatched long ago are folded.
func TestHatchlingsAreListed(t *testing.T) {
	d, h := bookDesk(t, recordLines, `{"key":"y","at":"2026-06-09T08:00:00Z","entry":"hatched","egg":"S1-2","mass_g":1.7}`)
	list := func() (all, folded []string) {
		shown := elementsOf(t, get(h, "/hatchlings"))
		for _, a := range shown.find("a", "class=row-link") {
			all = append(all, a.attrs["href"])
		}
		for _, f := range shown.find("details") {
			for _, a := range f.inside.find("a") {
				folded = append(folded, a.text)
			}
		}
		return all, folded
	}
	if all, folded := list(); !slices.Equal(all, []string{"/e/S1-2", "/e/S1-1"}) || len(folded) > 0 {
		t.Errorf("they are %v, folded %v", all, folded)
	}
	d.add(t, `{"key":"z","at":"2026-06-09T10:00:00Z","entry":"hatchling","egg":"S1-2","what":"died"}`)
	if all, folded := list(); len(all) != 2 || !slices.Equal(folded, []string{"S1-2 Sorrel hatched 9 Jun, died 9 Jun, 1.7 g"}) {
		t.Errorf("they are %v, folded %v", all, folded)
	}
}

// A name is a person's free text: the pages of the book show it and never run it.
func TestRecordNamesAreNotMarkup(t *testing.T) {
	const evil = `<img src=x onerror=alert(1)>"'/?#`
	line := func(key, rest string) string {
		return fmt.Sprintf(`{"key":%q,"at":"2026-05-01T08:00:00Z",%s}`, key, strings.ReplaceAll(rest, "EVIL", strings.ReplaceAll(evil, `"`, `\"`)))
	}
	_, h := bookDesk(t, line("1", `"entry":"dam","dam":"EVIL"`), line("2", `"entry":"pairing","dam":"EVIL","sire":"EVIL"`), line("3", `"entry":"box","box":"EVIL","zone":"EVIL","probe":"EVIL"`),
		line("4", `"entry":"clutch","clutch":"EVIL","dam":"EVIL","eggs":1,"laid_after":"2026-04-30T08:00:00Z","laid_by":"2026-05-01T08:00:00Z"`), line("5", `"entry":"placed","egg":"EVIL-1","box":"EVIL","slot":"EVIL"`),
		line("6", `"entry":"note","about":"EVIL","text":"EVIL"`), line("7", `"entry":"candled","egg":"EVIL-1","verdict":"EVIL"`))
	targets := []string{"/noted", "/note", "/hatchlings", "/review", "/search?" + url.Values{"q": {evil}}.Encode(), page.DamHref(evil), page.SireHref(evil), page.PairingHref(evil, evil),
		page.BoxHref(evil), page.ClutchHref(evil), page.EggHref(evil + "-1"), page.ProbeHref(evil), page.ZoneHref(evil)}
	for _, target := range targets {
		w := get(h, target)
		if all := elementsOf(t, w); w.Code != http.StatusOK || all.has("img") || all.has("", "onerror") {
			t.Errorf("%s: status %d, or the name is markup", target, w.Code)
		}
	}
}
