package api

import (
	_ "embed"
	"net/http"
)

//go:generate go run ./generate openapi.json

// Document describes every address for programs (OpenAPI 3.1).
//
//go:embed openapi.json
var Document []byte

// ServeDocument gives the description of every address for programs.
func ServeDocument(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(Document) // a client that went away needs no answer
}
