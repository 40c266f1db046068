//go:build unix

package intake

import (
	"errors"
	"syscall"
)

// limitProcess bounds this process's processor time in seconds and its address space in bytes.
func limitProcess(cpu, memory uint64) error {
	return errors.Join(
		syscall.Setrlimit(syscall.RLIMIT_CPU, &syscall.Rlimit{Cur: cpu, Max: cpu}),
		syscall.Setrlimit(syscall.RLIMIT_AS, &syscall.Rlimit{Cur: memory, Max: memory}),
		syscall.Setrlimit(syscall.RLIMIT_CORE, &syscall.Rlimit{}),
	)
}
