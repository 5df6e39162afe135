package web

import (
	"html/template"
	"net/http"

	"example.com/ootherm/cmd/ootherm/internal/manual"
)

// helpPages shows the manual.
type helpPages struct{ *server }

type helpListView struct {
	frame
	Groups []manual.Group
}

type helpTopicView struct {
	frame
	Text template.HTML // with its heading
}

func helpAddress(topic string) string { return "/help/" + topic }

// list shows the topics of the manual.
func (s helpPages) list(w http.ResponseWriter, _ *http.Request) {
	s.render(w, http.StatusOK, "help", helpListView{s.frameOrBare("Help"), manual.Groups()})
}

// more shows what has no place of its own.
func (s helpPages) more(w http.ResponseWriter, _ *http.Request) {
	v := moreView{frame: s.frameOrBare("More")}
	v.Here = "more"
	if s.Incidents != nil {
		v.Doors = append(v.Doors, doorView{"/incident", "What happened"})
	}
	if s.Book != nil {
		v.Doors = append(v.Doors, doorView{"/labels", "Labels to print"})
	}
	v.Doors = append(v.Doors, doorView{"/help", "Help"})
	s.render(w, http.StatusOK, "more", v)
}

type moreView struct {
	frame
	Doors []doorView
}

// topic shows one topic of the manual.
func (s helpPages) topic(w http.ResponseWriter, r *http.Request) {
	topic, ok := manual.Find(r.PathValue("topic"))
	if !ok {
		s.message(w, r, http.StatusNotFound, "No such topic", "The manual has no topic of this name. /help lists all.")
		return
	}
	text, err := topic.HTML(helpAddress)
	if err != nil {
		s.log.Error("a help topic could not be made", "topic", topic.Name, "err", err)
		s.message(w, r, http.StatusInternalServerError, "The topic could not be made", "The station's log says why.")
		return
	}
	s.render(w, http.StatusOK, "topic", helpTopicView{s.frameOrBare(topic.Title), text})
}
