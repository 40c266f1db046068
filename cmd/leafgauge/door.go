package main

import (
	"encoding/json"
	"fmt"
	"strings"

	"leafgauge/catalog"
	"leafgauge/measure"
)

// doorFlags say what is known of a door. They are shared by "door" and "fit".
type doorFlags struct {
	Width     string `placeholder:"LENGTH" help:"Door width: 32in, 2ft 8in, 813mm."`
	Height    string `placeholder:"LENGTH" help:"Door height: 80in, 6ft 8in."`
	Thickness string `placeholder:"LENGTH" help:"Door thickness: 1-3/8in, 35mm."`
	Doors     int    `placeholder:"N" default:"1" help:"How many doors."`
	Core      string `placeholder:"KIND" enum:",hollow,solid" default:"" help:"Core: hollow or solid."`
	Material  string `placeholder:"KIND" help:"Material: pine, oak, MDF, steel skin, hollow metal, glass, …"`
	Place     string `placeholder:"KIND" enum:",inside,outside,wet,coastal" default:"" help:"Place: inside, outside, wet or coastal."`
	Swing     string `placeholder:"WAY" enum:",in,out" default:"" help:"Which way it opens: in or out."`
	Use       string `placeholder:"KIND" enum:",low,medium,high" default:"" help:"How often it is used: low, medium or high."`
	Closer    bool   `help:"The door has a closer."`
	FireRated bool   `help:"The opening is fire-rated (it has a label)."`
	Weight    string `placeholder:"WEIGHT" help:"Weight, where known: 90lb, 41kg; a bare number is kilograms."`
	Inset     string `placeholder:"LENGTH" help:"How far the leaf's edge stays back from the door's face."`
	Clearance string `placeholder:"LENGTH" help:"How far the open door must clear its frame or trim."`
}

// door turns the flags into a door; flag is what each name begins with, "--" or "--door-".
func (f doorFlags) door(flag string) (catalog.Door, error) {
	d := catalog.Door{Count: f.Doors, Core: f.Core, Material: strings.ToLower(f.Material), Place: f.Place, Use: f.Use,
		Swing: f.Swing, Closer: f.Closer, FireRated: f.FireRated}
	for _, l := range []struct {
		name, text string
		to         *measure.Length
		most       measure.Length
	}{
		{"width", f.Width, &d.Width, 4 * measure.Foot * 2}, {"height", f.Height, &d.Height, 20 * measure.Foot},
		{"thickness", f.Thickness, &d.Thickness, 6 * measure.Inch}, {"inset", f.Inset, &d.Inset, 3 * measure.Inch},
		{"clearance", f.Clearance, &d.Clearance, 2 * measure.Foot},
	} {
		if l.text == "" {
			continue
		}
		v, err := catalog.ParseLength(l.text)
		if err != nil {
			return d, fmt.Errorf("%s%s: %w", flag, l.name, err)
		}
		if v < 0 || v > l.most || v == 0 && l.name != "inset" && l.name != "clearance" {
			return d, fmt.Errorf("%s%s %s is no door's: more than 0 and at most %s in is expected", flag, l.name, l.text, l.most.Fraction(8))
		}
		*l.to = v
	}
	if f.Weight != "" {
		var err error
		if d.Weight, err = catalog.ParseWeight(f.Weight); err != nil {
			return d, fmt.Errorf("%sweight: %w", flag, err)
		}
	}
	if d.Count < 1 || d.Count > 10_000 {
		return d, fmt.Errorf("%sdoors %d: at least 1 is expected", flag, d.Count)
	}
	return d, nil
}

// doorCmd prints what suits a door.
type doorCmd struct {
	doorFlags `embed:""`
	JSON      bool `name:"json" help:"Print one JSON object."`
}

func (doorCmd) Help() string {
	return `Example:
  leafgauge door --width 32in --height 80in --thickness 1-3/8in --core hollow
  leafgauge door --width 36in --height 80in --thickness 1-3/4in --material "steel skin" --place outside --swing out --weight 90lb`
}

// Run prints the answer in a line, then the advice by topic, each line with its source.
func (c doorCmd) Run(s streams) error {
	d, err := c.door("--")
	if err != nil {
		return exitError{exitUsage, err.Error()}
	}
	if d == (catalog.Door{Count: d.Count}) {
		return exitError{exitUsage, "say something about the door: --width 32in --height 80in --thickness 1-3/8in"}
	}
	answer, advice := catalog.AnswerDoor(d), catalog.AdviseDoor(d, catalog.Job{})
	if c.JSON {
		return json.NewEncoder(s.out).Encode(struct {
			Answer string           `json:"answer"`
			Door   catalog.Door     `json:"door"`
			Advice []catalog.Advice `json:"advice"`
		}{answer, d, advice})
	}
	fmt.Fprintln(s.out, answer)
	topic := ""
	for _, a := range advice {
		if a.Topic != topic {
			topic = a.Topic
			fmt.Fprintf(s.out, "\n%s\n", catalog.Capital(topic))
		}
		mark := "  "
		if a.Caution {
			mark = "! "
		}
		fmt.Fprintf(s.out, "  %s%s\n", mark, catalog.Fractions(a.Text))
		if a.Source != "" {
			fmt.Fprintf(s.out, "      %s [%s]\n", a.Source, a.Mark)
		} else {
			fmt.Fprintf(s.out, "      [%s]\n", a.Mark)
		}
	}
	return nil
}
