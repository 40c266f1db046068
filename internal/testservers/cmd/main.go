// Command cmd runs a command with a PostgreSQL and a Redis server to test on:
//
//	go run ./internal/testservers/cmd -- go test ./...
//
// The servers are found, started or installed as package testservers says, shared by every
// package's tests, and ended with the command. Its exit status is the command's.
package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"syscall"

	"leafgauge/internal/testservers"
)

func main() { os.Exit(run(os.Args[1:])) }

func run(args []string) int {
	if len(args) > 0 && args[0] == "--" {
		args = args[1:]
	}
	if len(args) == 0 {
		fmt.Fprintln(os.Stderr, "testservers: name a command to run, such as: go run ./internal/testservers/cmd -- go test ./...")
		return 2
	}
	environment, stop, err := testservers.Start()
	if err != nil {
		fmt.Fprintln(os.Stderr, "testservers:", err)
		return 1
	}
	defer stop()
	// The command has them too, and decides. (Ignored outright, it would inherit that.)
	signal.Notify(make(chan os.Signal, 1), os.Interrupt, syscall.SIGTERM)
	cmd := exec.Command(args[0], args[1:]...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = os.Stdin, os.Stdout, os.Stderr
	cmd.Env = append(os.Environ(), environment...)
	err = cmd.Run()
	var exit *exec.ExitError
	switch {
	case errors.As(err, &exit) && exit.ExitCode() > 0:
		return exit.ExitCode()
	case err != nil:
		fmt.Fprintln(os.Stderr, "testservers:", err)
		return 1
	}
	return 0
}
