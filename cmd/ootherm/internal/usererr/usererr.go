// Package usererr owns the one error type with a message for a person. The page and the
// commands show the message; the log also shows the cause. It must not know which package
// failed, and it imports nothing of this module.
package usererr

import "errors"

// Error is an error that a person can act on.
type Error struct {
	message string
	cause   error
	usage   bool
}

// New makes an error with a message for a person.
func New(message string) *Error { return &Error{message: message} }

// Usage marks a fault in the request or the configuration: the same request never works.
// A command ends with exit code 2, an HTTP request with status 400.
func Usage(cause error) error { return &Error{cause: cause, usage: true} }

// Reword gives an error another message. The cause decides whether it is an error of usage.
func Reword(cause error, message string) error { return &Error{message: message, cause: cause} }

// Error gives the text for the log.
func (e *Error) Error() string {
	if e.message == "" && e.cause != nil {
		return e.cause.Error()
	}
	return e.message
}

// ErrorMessage gives the text for a person.
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

// Unwrap gives the cause, or nil.
func (e *Error) Unwrap() error { return e.cause }

// Usage reports whether the request or the configuration is at fault.
func (e *Error) Usage() bool { return e.usage }

// Message gives the message for a person in an error or its causes, if there is one.
func Message(err error) (message string, ok bool) {
	var e interface{ ErrorMessage() string }
	if !errors.As(err, &e) {
		return "", false
	}
	return e.ErrorMessage(), true
}

// IsUsage reports whether an error or one of its causes blames the request or the
// configuration. An error type of another package does so with a method Usage.
func IsUsage(err error) bool {
	for err != nil {
		var e interface{ Usage() bool }
		if !errors.As(err, &e) {
			return false
		}
		if e.Usage() {
			return true
		}
		inner, ok := e.(interface{ Unwrap() error })
		if !ok {
			return false
		}
		err = inner.Unwrap()
	}
	return false
}
