// Package thermal owns the hatch model: it turns time at temperature into a hatch
// window. It is pure: it reads no clock and no file. It must not know species,
// clutches, probes or the book.
package thermal
