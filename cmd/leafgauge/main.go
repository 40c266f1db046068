// Command leafgauge measures a hinge from a photo, proposes what replaces it, and keeps
// the counter's inquiries.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/alecthomas/kong"
)

// Exit statuses of every command.
const (
	exitOK      = 0
	exitFailure = 1
	exitUsage   = 2
	exitRetake  = 3 // "measure" only: the photo must be taken again
)

// exitError ends the program with its own status, its text on standard error.
type exitError struct {
	status int
	text   string // "" prints nothing
}

func (e exitError) Error() string { return e.text }

// io of a command, so that tests can run it.
type streams struct {
	ctx      context.Context
	stdin    io.Reader
	out, err io.Writer
	getenv   func(string) string
}

// cli has one field a subcommand; each lives in the file of its name.
type cli struct {
	Serve    serveCmd    `cmd:"" help:"Run API, pages, mail and workers."`
	Measure  measureCmd  `cmd:"" help:"Measure a hinge from a photo."`
	Readings readingsCmd `cmd:"" help:"Read sizes out of typed text."`
	Fit      fitCmd      `cmd:"" help:"Rank stock hinges against a measured one."`
	Stock    stockCmd    `cmd:"" help:"Import, list and export the stock."`
	Card     cardCmd     `cmd:"" help:"Write the printable reference card (PDF)."`
	Door     doorCmd     `cmd:"" help:"Say what suits a door."`
	Bench    benchCmd    `cmd:"" help:"Time the steps of measuring photos."`
	Backup   backupCmd   `cmd:"" help:"Write everything into a folder."`
	Restore  restoreCmd  `cmd:"" help:"Read a backup into an empty database."`
	User     userCmd     `cmd:"" help:"Say who may sign in at the counter."`

	AdmitPhoto admitPhotoCmd `cmd:"" hidden:""`
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second Ctrl-C ends it at once
	s := streams{ctx, os.Stdin, os.Stdout, os.Stderr, os.Getenv}
	os.Exit(run(os.Args[1:], s))
}

// run parses args, runs the subcommand, and returns the exit status.
func run(args []string, s streams) (status int) {
	var c cli
	var exited bool
	parser, err := kong.New(&c,
		kong.Name("leafgauge"),
		kong.Description("Measures a door hinge from a photo beside a reference card and proposes what replaces it.\n\n"+
			"Example: leafgauge measure hinge.jpg --thickness 0.086in"),
		kong.UsageOnError(),
		kong.Writers(s.out, s.err),
		kong.Exit(func(int) { exited = true }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		kong.Bind(s),
	)
	if err != nil {
		fmt.Fprintln(s.err, "leafgauge:", err)
		return exitFailure
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	k, err := parser.Parse(args)
	if exited {
		return exitOK
	}
	if err != nil {
		fmt.Fprintln(s.err, "leafgauge:", err)
		see := "leafgauge --help"
		var wrong *kong.ParseError
		if errors.As(err, &wrong) && wrong.Context != nil && wrong.Context.Command() != "" {
			see = "leafgauge " + args[0] + " --help"
		}
		fmt.Fprintln(s.err, "See:", see)
		return exitUsage
	}
	if err := k.Run(s); err != nil {
		var e exitError
		if errors.As(err, &e) {
			if e.text != "" {
				fmt.Fprintln(s.err, "leafgauge:", e.text)
			}
			return e.status
		}
		fmt.Fprintln(s.err, "leafgauge:", err)
		return exitFailure
	}
	return exitOK
}
