// Command generate writes the OpenAPI document of the addresses for programs. It owns the
// table of addresses; it reads the shape of each answer from the type that is answered, and
// its words from the comments beside the fields.
package main

import (
	"encoding/json"
	"fmt"
	"os"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: generate FILE")
		os.Exit(2)
	}
	text, err := document("../../../../..")
	if err == nil {
		err = os.WriteFile(os.Args[1], text, 0o644)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "generate:", err)
		os.Exit(1)
	}
}

// object is a JSON object.
type object map[string]any

// document makes the OpenAPI document. moduleDir is the folder of the Go module.
func document(moduleDir string) ([]byte, error) {
	s := schemas{moduleDir: moduleDir, all: object{}}
	paths := object{}
	for _, a := range addresses {
		one, err := s.operation(a)
		if err != nil {
			return nil, fmt.Errorf("%s %s: %w", a.method, a.path, err)
		}
		at, ok := paths[a.path].(object)
		if !ok {
			at = object{}
			paths[a.path] = at
		}
		at[a.method] = one
	}
	text, err := json.Marshal(object{
		"openapi": "3.1.1",
		"info": object{
			"title": "ootherm", "version": "1", "summary": "The state, the readings and the book of a station.",
			"description": "Temperatures end in _c and are degrees Celsius, differences end in _k and are kelvin, spans end in _seconds or _days, masses end in _g, humidities are ratios, times are RFC 3339 in UTC. " +
				"What is not known is null. Later versions may add members and addresses; ignore those that you do not know. A member that is deprecated stays for a year.",
			"license": object{"name": "Apache-2.0", "identifier": "Apache-2.0"},
		},
		"servers":  []object{{"url": "/", "description": "this station"}},
		"security": []object{{}, {"token": []string{}}, {"password": []string{}}},
		"paths":    paths,
		"components": object{
			"schemas": s.all,
			"securitySchemes": object{
				"token":    object{"type": "http", "scheme": "bearer", "description": "A reading token: ootherm token make NAME. It reads and never writes."},
				"password": object{"type": "http", "scheme": "basic", "description": "A reading token as the password of any user."},
			},
		},
	})
	return append(text, '\n'), err
}

// operation describes one address.
func (s schemas) operation(a address) (object, error) {
	ok := object{"description": "done"}
	if a.kind != "" {
		shape := object{"type": "string"}
		if a.gives != nil {
			var err error
			if shape, err = s.of(a.gives); err != nil {
				return nil, err
			}
		}
		ok = object{"description": a.summary, "content": object{a.kind: object{"schema": shape}}}
	}
	refused, err := s.of(problemType)
	if err != nil {
		return nil, err
	}
	errorKind, errorShape := "application/problem+json", refused
	if a.textErrors {
		errorKind, errorShape = "text/plain", object{"type": "string"}
	}
	status := "200"
	if a.kind == "" {
		status = "204"
	}
	one := object{
		"operationId": a.id, "summary": a.summary,
		"responses": object{status: ok, "default": object{"description": "what is wrong", "content": object{errorKind: object{"schema": errorShape}}}},
	}
	var parameters []object
	for _, p := range a.parameters {
		shape := object{"type": "string"}
		if p.format != "" {
			shape["format"] = p.format
		}
		if len(p.among) > 0 {
			shape["enum"] = p.among
		}
		parameters = append(parameters, object{"name": p.name, "in": "query", "required": p.required, "description": p.words, "schema": shape})
	}
	if parameters != nil {
		one["parameters"] = parameters
	}
	if a.takesKind != "" {
		shape := object{"type": "string"}
		if a.takes != nil {
			shape = a.takes
		}
		one["requestBody"] = object{"required": true, "content": object{a.takesKind: object{"schema": shape}}}
	}
	return one, nil
}
