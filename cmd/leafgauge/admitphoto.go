package main

import "leafgauge/intake"

// admitPhotoCmd is the child that opens a stranger's picture (intake.AdmitApart); nobody types it.
type admitPhotoCmd struct {
	Name string `arg:"" name:"name" help:"The picture's file name."`
}

func (c admitPhotoCmd) Run(s streams) error { return intake.ServeAdmit(c.Name, s.stdin, s.out) }
