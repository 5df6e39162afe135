package setup

import "example.com/ootherm/cmd/ootherm/internal/prompt"

// dialog asks the questions of a setup. Its methods check an answer and ask again
// where it cannot be used.
type dialog struct{ *prompt.Session }
