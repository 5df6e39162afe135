// Package licence holds the licence of ootherm and those of the modules that are linked into
// it, as one text. It owns the text and the program that writes it. It must not know who
// shows it.
package licence

import _ "embed"

//go:generate go run ./generate linked.txt

// Text is the licence of ootherm, and then each linked module with its version and its
// licence. A licence that several modules share stands once.
//
//go:embed linked.txt
var Text string
