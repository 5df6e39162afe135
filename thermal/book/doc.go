// Package book is the breeder's book: dams, clutches, eggs and boxes as a pure
// fold over entries.
package book
