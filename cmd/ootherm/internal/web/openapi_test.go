package web

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"maps"
	"mime"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"example.com/ootherm/cmd/ootherm/internal/problem"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/web/api"
)

// operation is how the document describes one method of one address.
type operation struct {
	Responses map[string]struct {
		Content map[string]struct{ Schema map[string]any }
	}
	RequestBody struct {
		Content map[string]struct{ Schema map[string]any }
	}
}

// description reads the document, as the station serves it.
func description(t *testing.T, h http.Handler) (raw map[string]any, paths map[string]map[string]operation) {
	t.Helper()
	body := get(h, "/api/v1/openapi.json").Body.Bytes()
	var x struct {
		Paths map[string]map[string]operation
	}
	if err := json.Unmarshal(body, &x); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(body, &raw); err != nil {
		t.Fatal(err)
	}
	return raw, x.Paths
}

// TestEveryAddressIsDescribed compares the document with the addresses in the source.
func TestEveryAddressIsDescribed(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	served := map[string]bool{}
	pattern := regexp.MustCompile(`mux\.Handle(?:Func)?\("(GET|POST) (/api/[^"]+|/healthz|/metrics)"`)
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range pattern.FindAllStringSubmatch(string(text), -1) {
			served[strings.ToLower(m[1])+" "+m[2]] = true
		}
	}
	described := map[string]bool{}
	_, paths := description(t, handler(t, options(season())))
	for path, all := range paths {
		for method := range all {
			described[method+" "+path] = true
		}
	}
	if !maps.Equal(served, described) || len(served) < 13 {
		t.Errorf("served: %q\ndescribed: %q", slices.Sorted(maps.Keys(served)), slices.Sorted(maps.Keys(described)))
	}
}

// strict makes a schema refuse members that it does not describe.
func strict(schema any) {
	switch x := schema.(type) {
	case map[string]any:
		if _, ok := x["properties"].(map[string]any); ok && x["required"] != nil {
			x["additionalProperties"] = false
		}
		for _, v := range x {
			strict(v)
		}
	case []any:
		for _, v := range x {
			strict(v)
		}
	}
}

// schemaAt compiles one schema of the document. Its members are all that there may be.
func schemaAt(t *testing.T, raw map[string]any, pointer string) *jsonschema.Schema {
	t.Helper()
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	c.AssertFormat()
	if err := c.AddResource("openapi.json", raw); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("openapi.json#" + pointer)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// matches reports how an answer differs from what the document says of it.
func matches(t *testing.T, raw map[string]any, paths map[string]map[string]operation, method, path, status string, w *httptest.ResponseRecorder) {
	t.Helper()
	kind, _, err := mime.ParseMediaType(w.Header().Get("Content-Type"))
	if err != nil && status != "204" {
		t.Errorf("%s %s: %v", method, path, err)
		return
	}
	response, ok := paths[path][method].Responses[status]
	if !ok {
		t.Errorf("%s %s answers %s: %s", method, path, status, w.Body)
		return
	}
	if status == "204" {
		return
	}
	if _, ok := response.Content[kind]; !ok {
		t.Errorf("%s %s answers %s as %s: %s", method, path, status, kind, w.Body)
		return
	}
	if kind != "application/json" && kind != problem.ContentType {
		return
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(w.Body.Bytes()))
	if err != nil {
		t.Errorf("%s %s: %v", method, path, err)
		return
	}
	escape := strings.NewReplacer("~", "~0", "/", "~1")
	s := schemaAt(t, raw, "/paths/"+escape.Replace(path)+"/"+method+"/responses/"+status+"/content/"+escape.Replace(kind)+"/schema")
	if err := s.Validate(v); err != nil {
		t.Errorf("%s %s: %v", method, path, err)
	}
}

// TestAnswersMatchTheirSchemas asks every address for an answer and for a refusal.
func TestAnswersMatchTheirSchemas(t *testing.T) {
	d, _ := bookDesk(t, seasonBook())
	n := season()
	n.Boxes[0].Clutches[0].Outside = []snapshot.Outside{{Band: "safe", Side: "warm", Limit: 26.7, Seconds: 60, Most: 1.5, Stages: []snapshot.Stage{{From: 0.1, To: 0.2}}}, {}}
	n.Health.Copies = []snapshot.Copy{{By: "mail", To: "mail"}}
	n.Health.Silent = nil
	n.Alarms[0].Recovery = &snapshot.Recovery{Since: ptr(at)}
	o := options(n)
	o.Writer, o.Book, o.Profiles, o.Shown, o.Incidents = d, d, []string{"crested gecko"}, kept{}, looking{new([3]string)}
	o.Metrics = http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/plain; version=0.0.4")
	})
	o.SendTest = func(_ context.Context, sender string) error {
		return map[string]error{"push": errors.New("push did not take the test message"), "none": usererr.Usage(errors.New("no sender"))}[sender]
	}
	h := problem.ForPrograms(handler(t, o))
	raw, paths := description(t, h)
	strict(raw)

	asked := map[string]bool{}
	for _, c := range []struct {
		path, query, status string
	}{
		{"/api/v1/now", "", "200"},
		{"/api/v1/readings", "?probe=shelf", "200"},
		{"/api/v1/readings", "?probe=nothing&from=2027-01-01T00:00:00Z&to=2027-01-02T00:00:00Z", "default"},
		{"/api/v1/readings", "?probe=shelf&raw=maybe", "default"},
		{"/api/v1/readings", "", "default"},
		{"/api/v1/book", "", "200"},
		{"/api/v1/review", "?from=2026-03-01&to=2026-06-30", "200"},
		{"/api/v1/review", "?from=yesterday", "default"},
		{"/api/v1/incident", "", "200"},
		{"/api/v1/incident", "?zone=attic", "default"},
		{"/api/v1/rehearsal", "?zone=room", "200"},
		{"/api/v1/rehearsal", "?zone=incubator", "200"},
		{"/api/v1/rehearsal", "?zone=attic", "default"},
		{"/api/v1/score", "", "200"},
		{"/api/v1/openapi.json", "", "200"},
		{"/healthz", "", "200"},
		{"/metrics", "", "200"},
	} {
		asked["get "+c.path] = true
		w := get(h, c.path+c.query)
		if (w.Code == http.StatusOK) != (c.status == "200") {
			t.Errorf("%s%s: status %d: %s", c.path, c.query, w.Code, w.Body)
		}
		matches(t, raw, paths, "get", c.path, c.status, w)
	}
	for _, c := range []struct {
		path, kind, body, status string
	}{
		{"/api/v1/act", "application/json", `{"do":"acknowledge","alarm":"temperature-high.warning/room","who":"Ann"}`, "204"},
		{"/api/v1/act", "application/json", `{"do":"explode"}`, "default"},
		{"/api/v1/act", "text/plain", `{}`, "default"},
		{"/api/v1/book", "application/x-ndjson", `{"key":"n1","at":"2026-06-08T09:00:00Z","entry":"dam","dam":"Yarrow"}`, "204"},
		{"/api/v1/book", "application/x-ndjson", `{"key":"n2","at":"2026-06-08T09:00:00Z","entry":"hatched","egg":"none-1"}`, "default"},
		{"/api/v1/book", "application/x-ndjson", `nonsense`, "default"},
		{"/api/v1/test-message", "application/json", `{"sender":"mail"}`, "default"}, // not by the socket
		{"/api/v1/test-message", "application/json", `{"sender":"mail"}`, "204"},
		{"/api/v1/test-message", "application/json", `{"sender":"push"}`, "default"},
		{"/api/v1/test-message", "application/json", `{"sender":"none"}`, "default"},
	} {
		bySocket := c.path == "/api/v1/test-message" && asked["post "+c.path]
		asked["post "+c.path] = true
		r := httptest.NewRequest(http.MethodPost, c.path, strings.NewReader(c.body))
		r.Host, r.RemoteAddr = "127.0.0.1:8080", "127.0.0.1:40000"
		r.Header.Set("Content-Type", c.kind)
		if bySocket {
			r = r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, net.Addr(&net.UnixAddr{Name: "s", Net: "unix"})))
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if (w.Code == http.StatusNoContent) != (c.status == "204") {
			t.Errorf("%s %s: status %d: %s", c.path, c.body, w.Code, w.Body)
		}
		matches(t, raw, paths, "post", c.path, c.status, w)
	}
	asked["get /api/v1/backup"] = true // octets, at the socket alone: the tests of the command restore them
	for path, all := range paths {
		for method := range all {
			if !asked[method+" "+path] {
				t.Errorf("%s %s was not asked", method, path)
			}
		}
	}
}

// An address under /api/ that does not exist, and a method that one has not, are problems
// too, and so is a caller without a token.
func TestNothingUnderTheAPIAnswersWithAPage(t *testing.T) {
	h := handler(t, options(season()))
	_, locked, _ := closed(t, "four warm eggs")
	for _, c := range []struct {
		h            http.Handler
		method, path string
		status       int
	}{{h, "GET", "/api/v1/nothing", 404}, {h, "DELETE", "/api/v1/now", 405}, {h, "GET", "/api/", 404}, {h, "GET", "/api/v1/readings?probe=shelf&raw=" + strings.Repeat("x", 4000), 400},
		{locked, "GET", "/api/v1/now", 401}} {
		r := httptest.NewRequest(c.method, c.path, nil)
		r.Host, r.RemoteAddr = "127.0.0.1:8080", "127.0.0.1:40000"
		r.Header.Set("Accept", "text/html")
		w := httptest.NewRecorder()
		problem.ForPrograms(c.h).ServeHTTP(w, r)
		var d problem.Details
		if err := json.Unmarshal(w.Body.Bytes(), &d); err != nil || w.Code != c.status || d.Status != c.status || d.Detail == "" || w.Header().Get("Content-Type") != problem.ContentType {
			t.Errorf("%s %s: %d %s: %s", c.method, c.path, w.Code, w.Header().Get("Content-Type"), w.Body)
		}
	}
	if !json.Valid(api.Document) {
		t.Error("the document is no JSON")
	}
}

// A name that was replaced has the value of the new one.
func TestReplacedNamesStay(t *testing.T) {
	n := season()
	n.Boxes[0].Offset = 0.4
	n.Boxes[0].Clutches[0].Outside = []snapshot.Outside{{Most: 1.5}}
	body := get(handler(t, options(n)), "/api/v1/now").Body.String()
	for _, both := range []string{`"spread_k":0.8,"spread_c":0.8`, `"offset_k":0.4,"offset_kelvin":0.4`, `"equivalent_c":23.4,"equivalent_celsius":23.4`, `"most_k":1.5,"most_kelvin":1.5`} {
		if !strings.Contains(body, both) {
			t.Errorf("the JSON lacks %s", both)
		}
	}
}
