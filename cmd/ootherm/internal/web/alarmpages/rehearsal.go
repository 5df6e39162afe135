package alarmpages

import (
	"encoding/json"
	"net/http"
	"net/url"

	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// RehearsalPages say of a zone what the early warning would have made of failures there.
type RehearsalPages struct{ *page.Site }

type rehearsalPage struct {
	page.Frame
	Zone, Span, Learning, Laid, Wrong string
	Limits                            []words.RehearsedText
	Notes                             []string
	Computing                         bool
}

// RehearsalHref is the address of a zone's rehearsal.
func RehearsalHref(zone string) string {
	return "/rehearsal?" + url.Values{"zone": {zone}}.Encode()
}

// reloadSeconds is after how long the page asks again for what is being computed.
const reloadSeconds = "3"

// ServePage shows a zone's rehearsal. It never waits for one: while that is computed, the page
// says so and reloads by itself.
func (s RehearsalPages) ServePage(w http.ResponseWriter, r *http.Request) {
	n := s.State(w, r)
	if n == nil {
		return
	}
	zone := r.URL.Query().Get("zone")
	v := rehearsalPage{Frame: s.Frame(n, "Would it have called me?").In("more"), Zone: zone}
	x, ready, err := s.Incidents.Rehearsal(r.Context(), zone, false)
	status := http.StatusOK
	switch {
	case err != nil:
		if r.Context().Err() != nil {
			return // the client went away
		}
		status, v.Wrong = s.Refusal(err)
		v.Wrong = words.Capital(v.Wrong) + "."
	case !ready:
		w.Header().Set("Refresh", reloadSeconds)
		v.Computing = true
	default:
		in := words.Rehearsal{Reader: s.Reader, At: n.At}
		v.Span, v.Learning, v.Laid, v.Notes = in.Span(x), in.Learning(x.LearningUntil), in.Laid(), words.RehearsalNotes()
		for _, l := range x.Limits {
			text := in.Limit(l)
			text.Name, text.Short = page.Tied(text.Name), page.Tied(text.Short)
			v.Limits = append(v.Limits, text)
		}
	}
	s.Render(w, status, "rehearsal", v)
}

// ServeJSON waits for the rehearsal: it is for commands and programs.
func (s RehearsalPages) ServeJSON(w http.ResponseWriter, r *http.Request) {
	x, _, err := s.Incidents.Rehearsal(r.Context(), r.URL.Query().Get("zone"), true)
	if err != nil {
		s.Done(w, err)
		return
	}
	body, err := json.Marshal(x)
	if err != nil {
		s.Done(w, err)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(append(body, '\n')) // a client that went away needs no answer
}
