package alarmpages

import (
	"cmp"
	"net/http"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// act does what a form asks.
func (s Pages) ServeAct(w http.ResponseWriter, r *http.Request) {
	f, ok := s.SentForm(w, r, "Not done")
	if !ok {
		return
	}
	do, quiet, _ := strings.Cut(f.Get("do"), " ") // a button says with what it does for how long
	a, err := page.ParseAction(page.Action{Do: do, Alarm: f.Get("alarm"), Zone: f.Get("zone"), Who: f.Get("who")}, cmp.Or(quiet, f.Get("for")))
	if err == nil {
		err = s.Writer.Act(r.Context(), a)
	}
	if err != nil {
		status, text := s.Refusal(err)
		s.Message(w, r, status, "Not done", text)
		return
	}
	http.Redirect(w, r, "/", http.StatusSeeOther)
}
