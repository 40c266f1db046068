package intake

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"runtime"
	"slices"
	"time"
)

// A picture may be crafted to cost a decoder minutes or gigabytes. A serving program decodes
// what strangers send in a child process, which the system ends when it takes too much.
const (
	apartTime   = 60 * time.Second // of the wall clock; the slowest good photo takes about 10 s
	apartCPU    = 40               // seconds of processor time
	apartMemory = 4 << 30          // bytes of address space; 50 megapixels need about 1 GB
)

// A Doorman admits what strangers send: each picture in a child process of its own, or, the
// zero Doorman, in this process.
type Doorman struct {
	command []string      // of the child
	places  chan struct{} // one for each child at a time
}

// NewDoorman returns a Doorman of children, one a processor at a time: command, to which the
// picture's name is added, reads the picture on standard input and calls ServeAdmit.
func NewDoorman(command ...string) Doorman {
	return Doorman{command, make(chan struct{}, runtime.GOMAXPROCS(0))}
}

// An answer goes from the child to its parent as a line of JSON; the photo's bytes follow.
type answer struct {
	Photo   Photo         `json:"photo"`
	Invalid *InvalidError `json:"invalid,omitempty"`
	Error   string        `json:"error,omitempty"`
}

// ServeAdmit is the child's side of a Doorman: it reads a picture from in, limits what this
// process may take, and writes what became of the picture to out.
func ServeAdmit(name string, in io.Reader, out io.Writer) error {
	if err := limitProcess(apartCPU, apartMemory); err != nil {
		return fmt.Errorf("limit the process: %w", err)
	}
	data, err := io.ReadAll(io.LimitReader(in, MaxPhotoBytes+1))
	if err != nil {
		return err
	}
	var a answer
	p, err := Admit(name, data)
	switch {
	case errors.As(err, &a.Invalid):
	case err != nil:
		a.Error = err.Error()
	default:
		a.Photo = p
	}
	if err := json.NewEncoder(out).Encode(a); err != nil {
		return err
	}
	_, err = out.Write(p.Bytes)
	return err
}

// Admit is the function Admit. A child that was ended, or ended itself, says that the picture is
// too much; a child that can't be started is a fault of this machine.
func (d Doorman) Admit(name string, data []byte) (Photo, error) {
	if d.command == nil || len(data) > MaxPhotoBytes { // which is refused by its size alone
		return Admit(name, data)
	}
	d.places <- struct{}{}
	defer func() { <-d.places }()
	ctx, stop := context.WithTimeout(context.Background(), apartTime)
	defer stop()
	child := exec.CommandContext(ctx, d.command[0], append(slices.Clone(d.command[1:]), harmlessName(name))...)
	child.Stdin = bytes.NewReader(data)
	child.Env = []string{"GOMAXPROCS=1"}
	child.WaitDelay = time.Second
	var out bytes.Buffer
	child.Stdout = &out
	err := child.Run()
	var ended *exec.ExitError
	if errors.As(err, &ended) || ctx.Err() != nil {
		return Photo{}, invalidPhoto(CodeTooComplex, "This picture takes too much time or memory to open. Please send it as your phone took it, as JPEG.")
	}
	if err != nil {
		return Photo{}, fmt.Errorf("intake: open a picture in a child process: %w", err)
	}
	line, rest, _ := bytes.Cut(out.Bytes(), []byte("\n"))
	var got answer
	if err := json.Unmarshal(line, &got); err != nil {
		return Photo{}, fmt.Errorf("intake: answer of the child process: %w", err)
	}
	switch {
	case got.Invalid != nil:
		return Photo{}, got.Invalid
	case got.Error != "":
		return Photo{}, errors.New(got.Error)
	}
	got.Photo.Bytes = bytes.Clone(rest)
	return got.Photo, nil
}
