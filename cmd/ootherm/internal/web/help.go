package web

import (
	"html/template"
	"net/http"

	"example.com/ootherm/cmd/ootherm/internal/manual"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// helpPages shows the manual.
type helpPages struct{ *page.Site }

type helpListView struct {
	page.Frame
	Groups []manual.Group
}

type helpTopicView struct {
	page.Frame
	Text template.HTML // with its heading
}

func helpAddress(topic string) string { return "/help/" + topic }

// list shows the topics of the manual.
func (s helpPages) list(w http.ResponseWriter, _ *http.Request) {
	s.Render(w, http.StatusOK, "help", helpListView{s.FrameOrBare("Help").In("more"), manual.Groups()})
}

// more shows what has no place of its own.
func (s helpPages) more(w http.ResponseWriter, _ *http.Request) {
	v := moreView{Frame: s.FrameOrBare("More")}
	v.Here, v.Celsius, v.Fahrenheit = "more", s.Reader.Units == words.Celsius, s.Reader.Units == words.Fahrenheit
	if s.Incidents != nil {
		v.Doors = append(v.Doors, notes.Door{Href: "/incident", Title: "What happened"})
	}
	if s.Book != nil {
		v.Doors = append(v.Doors, notes.Door{Href: "/hatchlings", Title: "Hatchlings"}, notes.Door{Href: "/noted", Title: "All that was noted"}, notes.Door{Href: "/labels", Title: "Labels to print"})
	}
	v.Doors = append(v.Doors, notes.Door{Href: "/help", Title: "Help"})
	s.Render(w, http.StatusOK, "more", v)
}

type moreView struct {
	page.Frame
	Doors               []notes.Door
	Celsius, Fahrenheit bool // what this reader is shown
}

// topic shows one topic of the manual.
func (s helpPages) topic(w http.ResponseWriter, r *http.Request) {
	topic, ok := manual.Find(r.PathValue("topic"))
	if !ok {
		s.Message(w, r, http.StatusNotFound, "No such topic", "The manual has no topic of this name. /help lists all.")
		return
	}
	text, err := topic.HTML(helpAddress)
	if err != nil {
		s.Log.Error("a help topic could not be made", "topic", topic.Name, "err", err)
		s.Message(w, r, http.StatusInternalServerError, "The topic could not be made", "The station's log says why.")
		return
	}
	s.Render(w, http.StatusOK, "topic", helpTopicView{s.FrameOrBare(topic.Title).In("more"), text})
}
