package web

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
)

// hand is a person with a phone: it taps what is on the page and not folded away.
type hand struct {
	t     *testing.T
	h     http.Handler
	page  elements
	where string
	taps  int
	typed map[*element]url.Values // by form
}

// phoneAt opens a page without a tap.
func phoneAt(t *testing.T, h http.Handler, target string) *hand {
	p := &hand{t: t, h: h}
	p.load(target)
	return p
}

func (p *hand) load(target string) {
	p.t.Helper()
	path, _, _ := strings.Cut(target, "#")
	w := get(p.h, path)
	if w.Code != http.StatusOK {
		p.t.Fatalf("%s: status %d", target, w.Code)
	}
	p.page, p.where, p.typed = elementsOf(p.t, w), target, map[*element]url.Values{}
}

// shown reports whether an element can be seen: no closed fold is around it, but where it is
// that fold's own title.
func (p *hand) shown(e *element) bool {
	for _, d := range p.page.find("details") {
		if _, open := d.attrs["open"]; open || len(d.inside) == 0 || !slices.Contains(d.inside, e) {
			continue
		}
		title := d.inside[0]
		if e != title && !slices.Contains(title.inside, e) {
			return false
		}
	}
	return true
}

// tap finds what is tapped among elements that can be seen.
func (p *hand) tap(what string, all elements) *element {
	p.t.Helper()
	for _, e := range all {
		if p.shown(e) {
			p.taps++
			return e
		}
	}
	p.t.Fatalf("%s has no %s that can be tapped", p.where, what)
	return nil
}

func (p *hand) link(href string) {
	p.t.Helper()
	p.load(p.tap("link to "+href, p.page.find("a", "href="+href)).attrs["href"])
}

// unfold opens the fold of a title, of a thing.
func (p *hand) unfold(title, thing string) {
	p.t.Helper()
	for _, d := range p.page.find("details", "name="+thing) {
		if d.inside[0].text == title {
			p.tap("fold "+title, d.inside[:1])
			d.attrs["open"] = "open"
			return
		}
	}
	p.t.Fatalf("%s has no fold %s of %s", p.where, title, thing)
}

// formOf is the form around an element.
func (p *hand) formOf(e *element) *element {
	for _, f := range p.page.find("form") {
		if slices.Contains(f.inside, e) {
			return f
		}
	}
	return nil
}

func (p *hand) sent(f *element) url.Values {
	if p.typed[f] == nil {
		p.typed[f] = f.inside.sent()
	}
	return p.typed[f]
}

func (p *hand) choose(name, value string) {
	p.t.Helper()
	e := p.tap(name+" "+value, p.page.find("input", "name="+name, "value="+value))
	p.sent(p.formOf(e)).Set(name, value)
}

// press sends the form of the first button with a text, and follows the answer.
func (p *hand) press(text string) {
	p.t.Helper()
	var all elements
	for _, b := range p.page.find("button") {
		if b.text == text {
			all = append(all, b)
		}
	}
	b := p.tap("button "+text, all)
	f := p.formOf(b)
	body := p.sent(f)
	if name := b.attrs["name"]; name != "" {
		body.Set(name, b.attrs["value"])
	}
	target, _, _ := strings.Cut(f.attrs["action"], "?")
	w := post(p.h, target, form, body.Encode())
	if w.Code != http.StatusSeeOther {
		p.t.Fatalf("%s: status %d: %s", target, w.Code, w.Body)
	}
	p.load(w.Header().Get("Location"))
}

// What is done daily takes few taps. The figures are our choice.
func TestCountedTaps(t *testing.T) {
	const secondBox = `{"key":"bb","at":"2026-04-01T08:00:00Z","entry":"box","box":"B2","zone":"room"}`
	for name, c := range map[string]struct {
		from string
		most int
		do   func(p *hand)
		done func(d *desk) bool
	}{
		"eggs found": {"/", 4, func(p *hand) {
			p.link("/note/found")
			p.choose("dam", "Sorrel")
			p.choose("box", "B1")
			p.press("Note it")
		}, func(d *desk) bool { return len(d.b.Clutches()) == 2 }},
		"all eggs of a box candled": {"/", 3, func(p *hand) {
			p.link("/b/B1")
			p.choose("every", "fertile")
			p.press("Note it")
		}, func(d *desk) bool {
			a, _ := d.b.Egg("S1-1")
			b, _ := d.b.Egg("S1-2")
			return a.Verdict == "fertile" && b.Verdict == "fertile"
		}},
		"hatched": {"/c/S1", 2, func(p *hand) {
			p.unfold("Hatched", "S1-2")
			p.press("Note it")
		}, func(d *desk) bool { e, _ := d.b.Egg("S1-2"); return e.Fate == "hatched" }},
	} {
		t.Run(name, func(t *testing.T) {
			d, h := bookDesk(t, twoEggs, secondBox)
			p := phoneAt(t, h, c.from)
			c.do(p)
			if p.taps > c.most || !c.done(d) {
				t.Errorf("%d taps, at most %d; done: %t", p.taps, c.most, c.done(d))
			}
		})
	}
	t.Run("seen", func(t *testing.T) {
		o := options(season())
		heard := &ear{}
		o.Writer = heard
		p := phoneAt(t, handler(t, o), "/")
		headline := p.page.find("section")[0]
		if button := headline.inside.find("button")[0]; !strings.HasPrefix(headline.attrs["class"], "headline") || button.attrs["value"] != "acknowledge" {
			t.Errorf("the first button of the headline is %v", button.attrs)
		}
		p.press("I have seen it")
		if p.taps > 1 || len(heard.acts) != 1 || heard.acts[0].Do != "acknowledge" {
			t.Errorf("%d taps, heard %+v", p.taps, heard)
		}
	})
	t.Run("when does it hatch", func(t *testing.T) {
		_, h := bookDesk(t, twoEggs)
		p := phoneAt(t, h, "/")
		p.link("/c/S1")
		if answer := p.page.find("p", "class=answer"); p.taps > 1 || len(answer) == 0 || answer[0].text != "7 days to go" {
			t.Errorf("%d taps, the answer is %v", p.taps, answer.texts())
		}
	})
	t.Run("who should rest", func(t *testing.T) {
		_, h := bookDesk(t, seasonBook())
		p := phoneAt(t, h, "/")
		p.link("/review")
		if first := p.page.find("h2"); p.taps > 1 || first[0].text != "What stands out" || !strings.HasPrefix(p.page.find("p", "class=say")[0].text, "Sorrel: ") {
			t.Errorf("%d taps, it begins with %v", p.taps, first.texts())
		}
	})
}

// A fold hides what is in it, but for its title, until it is opened.
func TestFoldsHide(t *testing.T) {
	w := httptest.NewRecorder()
	w.WriteString(`<details name="x"><summary>More <b>of it</b></summary><p>hidden</p></details><p>shown</p>`)
	p := &hand{t: t, page: elementsOf(t, w)}
	var seen []string
	for _, e := range p.page {
		if p.shown(e) {
			seen = append(seen, e.name+" "+e.text)
		}
	}
	if want := []string{"details More of ithidden", "summary More of it", "b of it", "p shown"}; !slices.Equal(seen, want) {
		t.Errorf("%q can be seen, want %q", seen, want)
	}
}
