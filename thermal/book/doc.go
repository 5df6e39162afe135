// Package book is the breeder's book: dams, clutches, eggs and boxes as a pure
// fold over entries.
//
// Nothing in a book is edited. An [Entry] says what happened and when; a [Book]
// is what follows from all of them, taken in the order of (at, seq). An entry
// may be dated before entries already there: the fold is then made again from
// that day on, and an entry that breaks a rule of the whole is refused. A void
// entry undoes another, provided that nothing left depends on it.
//
// Rules that were a choice:
//
//   - An egg may be moved, not placed, into a box that no box entry describes
//     yet: it is there all the same. Its stay then has no zone, so no heat is
//     counted, until a box entry says where the box stands.
//   - A box is emptied when no waiting egg is in it. A box entry takes it into
//     use again, and may do so without an emptied entry; so does placing an egg
//     in an emptied box, where it last stood, or moving it, with its masses
//     unknown.
//   - A moved box has the probe that the entry names, or none; likewise its offset.
//   - A rested dam may lay. A clutch is refused when every dam it names was
//     retired before the earliest time it may have been laid.
//   - A clutch is found on or after the earliest time it may have been laid; an
//     egg pips and hatches after the latest. Eggs need not have been placed.
//   - A void cannot be undone: the entry is made again under a new key.
package book
