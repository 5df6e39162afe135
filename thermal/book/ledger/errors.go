package ledger

import "fmt"

// NewerError says that a newer program wrote the book.
type NewerError struct{ Schema, Known uint32 }

func (e *NewerError) Error() string {
	return fmt.Sprintf("the book has schema %d and this program knows schemas up to %d: a newer version wrote it, run that version or restore an older backup", e.Schema, e.Known)
}

// DamagedError says which record cannot be read. Key is empty when it is not known.
type DamagedError struct {
	Seq uint64
	Key string
	Err error
}

func (e *DamagedError) Error() string {
	key := e.Key
	if key == "" {
		key = "unknown"
	}
	return fmt.Sprintf("record %d (key %s) is damaged: %v: restore the book from a backup", e.Seq, key, e.Err)
}

func (e *DamagedError) Unwrap() error { return e.Err }

// ConflictError says that a key is taken by an entry with other content.
type ConflictError struct {
	Key string
	Seq uint64 // of the entry that has it
}

func (e *ConflictError) Error() string {
	return fmt.Sprintf("key %s is taken by an entry with other content (seq %d): give a new entry a new key", e.Key, e.Seq)
}
