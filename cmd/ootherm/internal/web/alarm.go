package web

import (
	"net/http"

	"example.com/ootherm/alert"
)

type alarmPage struct {
	frame
	Alarm *alarmView // nil: it is over
}

// oneAlarm is where a message leads to: one alarm, and what can be done about it. To
// open it does nothing, so a mail scanner that follows every link acknowledges
// nothing; the buttons ask.
func (s *server) oneAlarm(w http.ResponseWriter, r *http.Request) {
	n := s.state(w, r)
	if n == nil {
		return
	}
	key := r.URL.Query().Get("key")
	v := alarmPage{frame: s.frame(n, "An alarm")}
	for _, a := range n.Alarms {
		if a.Key == key {
			view := s.alarm(a, n.At)
			if s.Writer == nil || !s.trusted(r) {
				view.Buttons = nil
			}
			if a.Alarm == string(alert.Drying) {
				view.Figures = toPour(n, text(a.Box))
			}
			v.Alarm = &view
		}
	}
	s.render(w, http.StatusOK, "alarm", v)
}
