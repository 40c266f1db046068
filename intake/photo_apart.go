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
	"sync/atomic"
	"time"
)

// A picture may be crafted to cost a decoder minutes or gigabytes. A serving program decodes
// what strangers send in a child process, which the system ends when it takes too much.
const (
	apartTime   = 60 * time.Second // of the wall clock; the slowest good photo takes about 10 s
	apartCPU    = 40               // seconds of processor time
	apartMemory = 4 << 30          // bytes of address space; 50 megapixels need about 1 GB
)

// An apart is the command of the child and the places for children at a time.
type apart struct {
	command []string
	places  chan struct{}
}

var admitApart atomic.Pointer[apart]

// AdmitApart makes Admit do its work in a child process from now on: command reads a picture
// on standard input and calls ServeAdmit. A program calls it once, at its start.
func AdmitApart(command ...string) {
	admitApart.Store(&apart{command, make(chan struct{}, runtime.GOMAXPROCS(0))})
}

// An answer goes from the child to its parent as a line of JSON; the photo's bytes follow.
type answer struct {
	Photo   Photo         `json:"photo"`
	Invalid *InvalidError `json:"invalid,omitempty"`
	Error   string        `json:"error,omitempty"`
}

// ServeAdmit is the child's side of AdmitApart: it reads a picture from in, limits what this
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
	p, _, err := admit(name, data)
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

// admit runs the child. A child that was ended, or ended itself, says that the picture is
// too much; a child that can't be started is a fault of this machine.
func (a *apart) admit(name string, data []byte) (Photo, error) {
	if len(data) > MaxPhotoBytes {
		p, _, err := admit(name, data) // refused by its size alone
		return p, err
	}
	a.places <- struct{}{}
	defer func() { <-a.places }()
	ctx, stop := context.WithTimeout(context.Background(), apartTime)
	defer stop()
	child := exec.CommandContext(ctx, a.command[0], append(a.command[1:len(a.command):len(a.command)], harmlessName(name))...)
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
