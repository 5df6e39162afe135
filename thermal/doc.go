// Package thermal turns time at temperature into a hatch window. It is pure: it
// reads no clock, no file and no species.
package thermal
