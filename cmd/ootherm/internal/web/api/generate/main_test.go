package main

import (
	"bytes"
	"os"
	"testing"
)

func TestDocumentIsOfTheseTypes(t *testing.T) {
	want, err := document("../../../../../..")
	if err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile("../openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Error("openapi.json is of other types: run go generate ./cmd/ootherm/internal/web/api")
	}
}
