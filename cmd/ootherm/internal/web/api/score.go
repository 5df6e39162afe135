package api

import (
	"encoding/json"
	"net/http"
)

// score is how right the windows were.
func (s Programs) ServeScore(w http.ResponseWriter, _ *http.Request) {
	score, err := s.Shown.Score()
	if err != nil {
		s.Log.Error("the windows shown before could not be judged", "err", err)
		http.Error(w, "the windows shown before could not be read; the station's log says why", http.StatusInternalServerError)
		return
	}
	body, err := json.Marshal(score)
	if err != nil {
		s.Log.Error("the score could not be written as JSON", "err", err)
		http.Error(w, "it could not be written as JSON; the station's log says why", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(append(body, '\n')) // a client that went away needs no answer
}
