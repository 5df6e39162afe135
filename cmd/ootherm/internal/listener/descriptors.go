package listener

import (
	"fmt"
	"syscall"
)

// keptDescriptors are the file descriptors that stay free for probes, senders, files and
// child processes while every listener is full. A dozen probes and ten senders that all
// connect at once, with their name look-ups, need under 50 (our choice: over twice that).
const keptDescriptors = 128

// minDescriptors is the smallest limit with which the station runs: the page's and the
// socket's connections, their two listeners, and what is kept free.
const minDescriptors = maxConnections + maxSocketConnections + 2 + keptDescriptors

// CheckDescriptors returns an error that names the remedy if the process may open too few
// files for its connections, probes and senders.
func CheckDescriptors() error {
	var x syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_NOFILE, &x); err != nil {
		return fmt.Errorf("the limit of open files: %w", err)
	}
	return checkDescriptors(x.Cur)
}

func checkDescriptors(limit uint64) error {
	if limit < minDescriptors {
		return fmt.Errorf("this process may open %d files, and the station needs %d for its page, its probes and its senders; raise LimitNOFILE in the unit, or ulimit -n in the shell", limit, minDescriptors)
	}
	return nil
}
