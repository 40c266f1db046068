package main

import (
	"errors"
	"os"

	"leafgauge/printcard"
)

// cardCmd writes the printable reference card.
type cardCmd struct {
	File  string `arg:"" name:"file.pdf" help:"The PDF to write."`
	Paper string `enum:"a4,letter" default:"letter" help:"Paper size: a4 or letter (default)."`
}

func (cardCmd) Help() string {
	return `For customers without a library or gift card at hand. Print it at 100 %, check the bar with a
ruler, and type what it measures with the hinge's sizes ("bar 100 mm"): until then
every size is uncertain by the 3 to 6 % that printers take off to fit a page.

Example: leafgauge card card.pdf --paper a4`
}

func (c cardCmd) Run() error {
	f, err := os.Create(c.File)
	if err != nil {
		return err
	}
	return errors.Join(printcard.Write(f, c.Paper), f.Close())
}
