// Package husbandry owns the work that the book makes due: how much water a box
// needs and when to weigh it, when a dam is likely to lay and when to look. It
// reads a book and plain egg masses. It must not know the temperature, the
// configuration, nor how a reminder is shown.
package husbandry
