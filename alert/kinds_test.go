package alert_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"slices"
	"strconv"
	"testing"

	"example.com/ootherm/alert"
)

// Kinds lists every constant of type Kind in key.go. Tests of other packages loop over
// it, so a kind that is missing here would go without its words.
func TestKindsListsEveryKind(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "key.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var declared []alert.Kind
	ast.Inspect(file, func(n ast.Node) bool {
		v, ok := n.(*ast.ValueSpec)
		if !ok {
			return true
		}
		if typ, ok := v.Type.(*ast.Ident); !ok || typ.Name != "Kind" {
			return true
		}
		text, err := strconv.Unquote(v.Values[0].(*ast.BasicLit).Value)
		if err != nil {
			t.Fatal(err)
		}
		declared = append(declared, alert.Kind(text))
		return true
	})
	listed := append(alert.Kinds(), alert.AllWell)
	slices.Sort(declared)
	slices.Sort(listed)
	if !slices.Equal(declared, listed) {
		t.Errorf("key.go declares %q, Kinds lists %q", declared, listed)
	}
}
