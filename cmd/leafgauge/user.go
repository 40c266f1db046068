package main

import (
	"bufio"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"leafgauge/quote"
	"leafgauge/store"

	"golang.org/x/term"
)

// userCmd looks after who may sign in at the counter.
type userCmd struct {
	Add userAddCmd `cmd:"" help:"Add a user, or set a new password."`
}

func (userCmd) Help() string {
	return `Example:
  leafgauge user add kim --owner`
}

type userAddCmd struct {
	place `embed:""`
	Name  string `arg:"" help:"The name to sign in with."`
	Owner bool   `help:"May also look after the stock and see the figures."`
}

func (userAddCmd) Help() string {
	return `The password is asked for on a terminal, else read from standard input; where there is
none, one is made and printed. Adding a user again sets a new password.

Example:
  leafgauge user add kim --owner
  leafgauge user add kim < password.txt`
}

// Run adds the user.
func (c userAddCmd) Run(s streams) error {
	password, made, err := askPassword(s)
	if err != nil {
		return err
	}
	db, err := store.Open(s.ctx, c.databaseURL())
	if err != nil {
		return err
	}
	defer db.Close()
	desk := quote.NewDesk(db, nil, quote.Terms{}, time.Now)
	if err := desk.AddUser(s.ctx, c.Name, password, c.Owner); err != nil {
		return err
	}
	fmt.Fprintf(s.out, "%s may sign in now.\n", strings.TrimSpace(c.Name))
	if made {
		fmt.Fprintf(s.out, "Password: %s\n", password)
	}
	return nil
}

// askPassword asks for a password, or makes one where nobody gives any.
func askPassword(s streams) (password string, made bool, err error) {
	if f, ok := s.stdin.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		ask := func(what string) (string, error) {
			fmt.Fprintf(s.err, "%s: ", what)
			b, err := term.ReadPassword(int(f.Fd()))
			fmt.Fprintln(s.err)
			return string(b), err
		}
		if password, err = ask("Password (leave empty to have one made)"); err != nil {
			return "", false, fmt.Errorf("read the password: %w", err)
		}
		if password != "" {
			again, err := ask("Once more")
			if err != nil {
				return "", false, fmt.Errorf("read the password: %w", err)
			}
			if again != password {
				return "", false, errors.New("the two passwords are not the same: nothing was changed, try again")
			}
			return password, false, nil
		}
	} else {
		line, err := bufio.NewReader(io.LimitReader(s.stdin, 1<<16)).ReadString('\n')
		if err != nil && err != io.EOF {
			return "", false, fmt.Errorf("read the password: %w", err)
		}
		if password = strings.TrimRight(line, "\r\n"); password != "" {
			return password, false, nil
		}
	}
	// Five groups of four out of 32 characters: 100 bits.
	text := strings.ToLower(rand.Text())
	var groups []string
	for i := range 5 {
		groups = append(groups, text[4*i:4*i+4])
	}
	return strings.Join(groups, "-"), true, nil
}
