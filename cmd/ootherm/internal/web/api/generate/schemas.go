package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/thermal/book"
)

// schemas are the schemas of types by their names.
type schemas struct {
	moduleDir string
	all       object
}

// nullableFields may be null though their type is no pointer: its method MarshalJSON writes
// null for zero.
var nullableFields = map[string]bool{"Window.likely": true}

// anyFields are of any type, with the type of what they hold.
var anyFields = map[string]reflect.Type{"Details.faults": reflect.TypeFor[book.Faults]()}

// of returns the schema of a type. A struct becomes a named schema that is referred to.
func (s schemas) of(t reflect.Type) (object, error) {
	switch t.Kind() {
	case reflect.Pointer:
		inner, err := s.of(t.Elem())
		if err != nil {
			return nil, err
		}
		if kind, ok := inner["type"]; ok {
			inner["type"] = []any{kind, "null"}
			return inner, nil
		}
		return object{"oneOf": []object{inner, {"type": "null"}}}, nil
	case reflect.Struct:
		if t == reflect.TypeFor[time.Time]() {
			return object{"type": "string", "format": "date-time"}, nil
		}
		name := strings.ToUpper(t.Name()[:1]) + strings.TrimSuffix(t.Name()[1:], "View")
		if _, ok := s.all[name]; !ok {
			s.all[name] = object{} // ends the recursion
			shape, err := s.structure(t, name)
			if err != nil {
				return nil, err
			}
			s.all[name] = shape
		}
		return object{"$ref": "#/components/schemas/" + name}, nil
	case reflect.Slice:
		inner, err := s.of(t.Elem())
		return object{"type": "array", "items": inner}, err
	case reflect.Map:
		if t.Elem().Kind() == reflect.Interface {
			return object{"type": "object"}, nil
		}
		inner, err := s.of(t.Elem())
		return object{"type": "object", "additionalProperties": inner}, err
	case reflect.Interface:
		return object{}, nil
	case reflect.String:
		return object{"type": "string"}, nil
	case reflect.Bool:
		return object{"type": "boolean"}, nil
	case reflect.Float64:
		return object{"type": "number"}, nil
	case reflect.Int, reflect.Int64:
		return object{"type": "integer"}, nil
	}
	return nil, fmt.Errorf("no schema for %s", t)
}

// structure returns the schema of a struct with the members of the structs in it.
func (s schemas) structure(t reflect.Type, name string) (object, error) {
	properties, required := object{}, []string{}
	if err := s.members(t, name, properties, &required); err != nil {
		return nil, err
	}
	slices.Sort(required)
	shape := object{"type": "object", "properties": properties, "required": required}
	comments, err := s.comments(t)
	if words := comments[""]; words != "" {
		shape["description"] = words
	}
	return shape, err
}

func (s schemas) members(t reflect.Type, name string, properties object, required *[]string) error {
	comments, err := s.comments(t)
	if err != nil {
		return err
	}
	for i := range t.NumField() {
		f := t.Field(i)
		tag, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case tag == "-" || tag == "" && !f.Anonymous:
			continue
		case f.Anonymous && tag == "":
			if err := s.members(f.Type, name, properties, required); err != nil {
				return err
			}
			continue
		}
		held := f.Type
		if of, ok := anyFields[name+"."+tag]; ok {
			held = of
		}
		shape, err := s.of(held)
		if err != nil {
			return err
		}
		if nullableFields[name+"."+tag] {
			shape["type"] = []any{shape["type"], "null"}
		}
		if words := comments[f.Name]; words != "" {
			shape["description"] = words
			if strings.HasPrefix(words, "The old name of ") {
				shape["deprecated"] = true
			}
		}
		properties[tag] = shape
		if options != "omitempty" {
			*required = append(*required, tag)
		}
	}
	return nil
}

// comments returns the comment of a struct, under "", and of each of its fields.
func (s schemas) comments(t reflect.Type) (map[string]string, error) {
	all := map[string]string{}
	dir, ok := strings.CutPrefix(t.PkgPath(), "example.com/ootherm/")
	if !ok { // this package
		dir = "cmd/ootherm/internal/web/api/generate"
	}
	files, err := os.ReadDir(filepath.Join(s.moduleDir, dir))
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		if filepath.Ext(f.Name()) != ".go" || strings.HasSuffix(f.Name(), "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), filepath.Join(s.moduleDir, dir, f.Name()), nil, parser.ParseComments)
		if err != nil {
			return nil, err
		}
		for _, d := range file.Decls {
			if g, ok := d.(*ast.GenDecl); ok {
				readComments(g, t.Name(), all)
			}
		}
	}
	return all, nil
}

// readComments adds the comments of a struct that a declaration declares.
func readComments(g *ast.GenDecl, name string, all map[string]string) {
	for _, spec := range g.Specs {
		x, ok := spec.(*ast.TypeSpec)
		if !ok || x.Name.Name != name {
			continue
		}
		all[""] = oneLine(g.Doc.Text())
		fields, ok := x.Type.(*ast.StructType)
		if !ok {
			continue
		}
		for _, f := range fields.Fields.List {
			for _, n := range f.Names {
				all[n.Name] = oneLine(f.Doc.Text() + " " + f.Comment.Text())
			}
		}
	}
}

func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }
