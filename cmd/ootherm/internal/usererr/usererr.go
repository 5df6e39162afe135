// Package usererr owns the one error type whose words are for a person. The page
// and the commands show those words; the log also shows the cause. It must not know
// which package failed, and it imports nothing of this module.
package usererr

import "errors"

// Error is an error that a person can act on.
type Error struct {
	message string
	cause   error
	usage   bool
}

// New is an error that says message.
func New(message string) *Error { return &Error{message: message} }

// Usage marks an error of what was asked or configured: the same request will
// never work. A command that meets it ends with exit code 2, a request with 400.
func Usage(cause error) error { return &Error{cause: cause, usage: true} }

// Reword gives the cause of an error other words. Whether it is an error of usage is
// the cause's.
func Reword(cause error, message string) error { return &Error{message: message, cause: cause} }

// Error is the text for the log.
func (e *Error) Error() string {
	if e.message == "" && e.cause != nil {
		return e.cause.Error()
	}
	return e.message
}

// ErrorMessage is the text for a person.
func (e *Error) ErrorMessage() string {
	var says interface {
		error
		ErrorMessage() string
	}
	// Words that were put before the inner error's own are for the person too.
	if e.message == "" && errors.As(e.cause, &says) && says.Error() == e.cause.Error() {
		return says.ErrorMessage()
	}
	return e.Error()
}

// Unwrap gives the cause; nil where there is none.
func (e *Error) Unwrap() error { return e.cause }

// Usage reports whether what was asked or configured is at fault.
func (e *Error) Usage() bool { return e.usage }

// Message gives the words for a person that an error holds, if it holds any.
func Message(err error) (message string, ok bool) {
	var says interface{ ErrorMessage() string }
	if !errors.As(err, &says) {
		return "", false
	}
	return says.ErrorMessage(), true
}

// IsUsage reports whether an error says that what was asked or configured is at
// fault. An error type of another package says so with a method Usage.
func IsUsage(err error) bool {
	for err != nil {
		var says interface{ Usage() bool }
		if !errors.As(err, &says) {
			return false
		}
		if says.Usage() {
			return true
		}
		inner, ok := says.(interface{ Unwrap() error })
		if !ok {
			return false
		}
		err = inner.Unwrap()
	}
	return false
}
