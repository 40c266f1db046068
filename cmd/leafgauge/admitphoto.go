package main

import (
	"os"

	"leafgauge/intake"
)

// newDoorman returns a doorman that opens each picture in a child of this program, or in this
// process where the system doesn't say which file the program is.
func newDoorman() intake.Doorman {
	self, err := os.Executable()
	if err != nil {
		return intake.Doorman{}
	}
	return intake.NewDoorman(self, "admit-photo")
}

// admitPhotoCmd is the child of newDoorman; nobody types it.
type admitPhotoCmd struct {
	Name string `arg:"" name:"name" help:"The picture's file name."`
}

func (c admitPhotoCmd) Run(s streams) error { return intake.ServeAdmit(c.Name, s.stdin, s.out) }
