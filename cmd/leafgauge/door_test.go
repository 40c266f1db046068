package main

import (
	"encoding/json"
	"strings"
	"testing"

	"leafgauge/catalog"

	"github.com/stretchr/testify/require"
)

// What is typed of a door, and what the first line and the topics below it say.
func TestDoorAnswers(t *testing.T) {
	inside := []string{"--width", "30in", "--height", "80in", "--thickness", "1-3/8in"}
	front := []string{"--width", "36in", "--height", "80in", "--thickness", "1-3/4in"}
	for name, c := range map[string]struct {
		of, args []string
		first    []string // in the first line
		want     []string // anywhere
		not      []string // nowhere
	}{
		"pine": {inside, []string{"--material", "pine"},
			[]string{"3 hinges, 3½ × 3½ in (89 × 89 mm), plain bearing will do, #9 × 1 in (25.4 mm) wood screws, lead hole 7/64 in (2.8 mm) in pine."},
			[]string{"Lead hole for #9: in softwood"}, []string{"in hardwood"}},
		"soft pine":                 {inside, []string{"--material", "soft pine"}, []string{"in pine"}, nil, []string{"in hardwood"}},
		"oak":                       {inside, []string{"--material", "oak"}, []string{"lead hole 9/64 in (3.6 mm) in oak"}, nil, []string{"in softwood"}},
		"ashtray":                   {inside, []string{"--material", "ashtray"}, []string{"7/64 in (2.8 mm) in softwood", "9/64 in (3.6 mm) in hardwood"}, nil, []string{"in ash"}},
		"fire door":                 {inside, []string{"--material", "fire door"}, []string{"in softwood", "in hardwood"}, nil, []string{"in fir,", "in fir."}},
		"oak veneer":                {inside, []string{"--material", "oak veneer"}, []string{"in softwood", "in hardwood"}, nil, []string{"in oak"}},
		"MDF":                       {inside, []string{"--material", "MDF"}, []string{"lead hole 9/64 in (3.6 mm) in MDF"}, []string{"as in hardwood", "name no lead hole in board"}, []string{"in softwood"}},
		"swings out, place unknown": {front, []string{"--swing", "out"}, []string{"safety studs if it leads outside"}, nil, nil},
		"other rules":               {inside, nil, nil, []string{"Other published rules for #9"}, nil},
		"no height":                 {[]string{"--width", "30in", "--thickness", "1-3/8in"}, nil, []string{"3½ × 3½ in", "Still needed: the height (how many hinges)"}, nil, nil},
		"height only":               {[]string{"--height", "80in"}, nil, []string{"3 hinges", "Still needed: the thickness and the width (size and screws)"}, nil, nil},
		"4 doors":                   {inside, []string{"--doors", "4"}, []string{"12 hinges, 3 on each of 4 doors"}, nil, nil},
		"swings out":                {front, []string{"--place", "outside", "--swing", "out"}, []string{"non-removable pins"}, []string{"Where the door swings out its pins are outside"}, nil},
		"swings in":                 {front, []string{"--place", "outside", "--swing", "in"}, nil, nil, []string{"pins"}},
		"90 lb":                     {front, []string{"--weight", "90lb", "--use", "low"}, []string{"ball bearing because it weighs 41 kg (90 lb)"}, []string{"From 40 kg (88 lb)", "two people", "with a door of 60 kg (132 lb)"}, []string{"Plain bearing is enough"}},
		"41 kg":                     {front, []string{"--weight", "41kg"}, []string{"it weighs 41 kg (90 lb)"}, nil, nil},
		"90":                        {front, []string{"--weight", "90"}, []string{"it weighs 90 kg (198 lb)"}, nil, nil},
		"30 lb":                     {inside, []string{"--weight", "30 lb", "--use", "low"}, []string{"plain bearing will do"}, []string{"Plain bearing is enough"}, []string{"two people"}},
		"200 kg":                    {front, []string{"--weight", "200kg"}, []string{"Beyond the published tables: its weight, over 160 kg (353 lb)."}, []string{"end at 160 kg (353 lb)"}, []string{"grade 14"}},
		"weight alone":              {[]string{"--weight", "90lb"}, nil, []string{"Ball bearing", "Still needed: the height"}, nil, nil},
		"steel": {front, []string{"--material", "steel"}, []string{"wood screws in a wooden edge", "#12-24 × ½ in (12.7 mm) machine screws in hollow metal"},
			[]string{"sheet steel on a frame with wooden stiles", "old screws"}, nil},
		"steel skin":   {front, []string{"--material", "steel skin"}, []string{"#12 × 1¼ in (31.75 mm) wood screws in the wooden edge"}, []string{"Lead hole for #12"}, []string{"machine screws"}},
		"wood edge":    {front, []string{"--material", "steel with wood edge"}, []string{"wood screws in the wooden edge"}, nil, []string{"machine screws"}},
		"hollow metal": {front, []string{"--material", "hollow metal"}, []string{"#12-24 × ½ in (12.7 mm) machine screws"}, nil, []string{"Lead hole", "wood screws"}},
		"glass": {[]string{"--width", "800mm", "--height", "2000mm", "--thickness", "10mm"}, []string{"--material", "glass"},
			[]string{"These tables do not apply to a glass door"}, []string{"40 kg (88 lb)", "two people"}, []string{"wood screws", "lead hole", "Lead hole", "Still needed", "grade"}},
		"glazed oak": {front, []string{"--material", "oak with glass panels"}, []string{"in oak"}, nil, []string{"do not apply"}},
		"fibreglass": {front, []string{"--material", "fibreglass"}, []string{"wood screws in the wooden edge"}, nil, []string{"do not apply"}},
		"aluminium":  {front, []string{"--material", "aluminium"}, []string{"do not apply"}, nil, []string{"Lead hole"}},
		"between rows": {[]string{"--width", "30in", "--height", "80in", "--thickness", "40mm"}, nil, []string{"the old hinges' size (the table has no row for this door)"},
			[]string{"between the table's rows", "3½ in (88.9 mm)", "4½ in (114.3 mm)"}, nil},
		"between rows, hollow": {[]string{"--width", "30in", "--height", "80in", "--thickness", "40mm"}, []string{"--core", "hollow"}, []string{"screws of the old ones' size"},
			[]string{"holds screws only in its solid edge"}, nil},
		"low use, weight unknown": {front, []string{"--use", "low"}, []string{"plain bearing will do unless it weighs 40 kg (88 lb) or more"}, []string{"Plain bearing is enough unless"}, nil},
		"fire, no row": {[]string{"--width", "30in", "--height", "80in", "--thickness", "40mm"}, []string{"--fire-rated"}, []string{"the size that its label asks for"},
			[]string{"The opening's label says which size it takes"}, []string{"Keep the old hinges"}},
		"too wide":  {[]string{"--width", "40in", "--height", "80in", "--thickness", "1-3/8in"}, nil, []string{"the old hinges' size (the table has no row for this door)"}, []string{"ends at doors 37 in (940 mm) wide"}, []string{"usually carry"}},
		"too thin":  {[]string{"--width", "20in", "--height", "30in", "--thickness", "3/4in"}, nil, []string{"the old hinges' size"}, []string{"begins at doors 1¼ in (31.75 mm) thick"}, nil},
		"too thick": {[]string{"--width", "40in", "--height", "80in", "--thickness", "3in"}, nil, []string{"the old hinges' size"}, []string{"ends at doors 2½ in (63.5 mm) thick"}, nil},
		"too high":  {[]string{"--width", "36in", "--height", "11ft", "--thickness", "1-3/4in"}, nil, []string{"5 hinges", "Beyond the published tables: its height, over 120 in (3048 mm)."}, []string{"beyond doors 120 in (3048 mm) high"}, nil},
		"fire": {front, []string{"--fire-rated", "--place", "coastal", "--material", "oak"},
			[]string{"stainless steel", "listed", "ball bearing", "authority having jurisdiction"},
			[]string{"close by itself", "latch", "⅛ in", "Never block an exit"}, []string{"or brass", "lead hole", "Stainless steel or brass", "soft brass screws"}},
		"fire, out":   {front, []string{"--fire-rated", "--place", "outside", "--swing", "out"}, []string{"non-removable pins"}, nil, nil},
		"fire, steel": {front, []string{"--fire-rated", "--material", "steel"}, nil, []string{"3/16 in (4.8 mm)", "depends on the listing"}, nil},
		"quiet door":  {inside, []string{"--material", "pine"}, nil, []string{"1978", "Support the door", "eye protection", "Local codes"}, []string{"Never block an exit", "A spring hinge"}},
		"inch and mm": {front, nil, nil, []string{"1¾ in (44.45 mm)", "2¼ in (57.15 mm)", "in 2 in (50.8 mm)", "120–180 mm (4.7–7.1 in)", "200–250 mm (7.9–9.8 in)"}, []string{"44.5 mm", "57.1 mm", "57.2 mm"}},
	} {
		t.Run(name, func(t *testing.T) {
			status, out, errs := commandWith(t, "", append(append([]string{"door"}, c.of...), c.args...)...)
			require.Equal(t, exitOK, status, errs)
			first, _, _ := strings.Cut(out, "\n")
			for _, s := range c.first {
				require.Contains(t, first, s)
			}
			for _, s := range c.want {
				require.Contains(t, out, s)
			}
			for _, s := range c.not {
				require.NotContains(t, out, s)
			}
			require.NotContains(t, out, "%!")
		})
	}
}

func TestDoorAnswerAsJSON(t *testing.T) {
	status, out, errs := commandWith(t, "", "door", "--width", "30in", "--height", "80in", "--swing", "out", "--weight", "66lb", "--json")
	require.Equal(t, exitOK, status, errs)
	var a struct {
		Answer string           `json:"answer"`
		Door   catalog.Door     `json:"door"`
		Advice []catalog.Advice `json:"advice"`
	}
	require.NoError(t, json.Unmarshal([]byte(out), &a))
	require.True(t, strings.HasPrefix(a.Answer, "3 hinges"), a.Answer)
	require.Equal(t, "out", a.Door.Swing)
	require.InDelta(t, 29.937, a.Door.Weight, 0.001) // 66 × 0.45359237, by hand
	require.NotEmpty(t, a.Advice)
	for _, args := range [][]string{{"--swing", "up"}, {"--weight", "heavy"}, {"--weight", "0"}, {"--weight", "5000lb"}, {"--weight=-3kg"}, {"--weight", "9 stone"}} {
		status, _, errs := commandWith(t, "", append([]string{"door", "--width", "30in"}, args...)...)
		require.Equal(t, exitUsage, status, "%v", args)
		require.NotEmpty(t, errs)
	}
}

func TestFitHearsWhichWayTheDoorOpens(t *testing.T) {
	const says = "Loose pin: the door swings out"
	for swing, want := range map[string]bool{"out": true, "in": false} {
		status, out, errs := commandWith(t, bestOf(t, "H1053"), "fit", "--stock", shelf, "--door-place", "outside", "--door-swing", swing, "--door-weight", "90lb", "-")
		require.Equal(t, exitOK, status, errs)
		require.Equal(t, want, strings.Contains(out, says), swing)
	}
}
