package quote

import (
	"cmp"
	"fmt"
	"strings"
	"testing"

	"leafgauge/catalog"
	"leafgauge/intake/readings"
	"leafgauge/measure"

	"github.com/stretchr/testify/require"
)

// What a statement brings about, beside a shelf of two hinges that are alike but for what two
// alters; B is the dearer one unless two says otherwise.
type brings struct {
	before string // said without the statement too
	two    func(a, b *catalog.Item)
	weight float64 // of the door, kg
	photo  bool    // one leaf is seen; else 3 1/2 x 3 1/2 in is typed
	want   []string
	gone   []string
	none   bool // it changes nothing
}

// cheap makes B the first by its price.
func cheap(alter func(b *catalog.Item)) func(a, b *catalog.Item) {
	return func(a, b *catalog.Item) {
		a.Prices, b.Prices = b.Prices, a.Prices
		alter(b)
	}
}

func second(alter func(b *catalog.Item)) func(a, b *catalog.Item) {
	return func(_, b *catalog.Item) { alter(b) }
}

func hands(a, b string) func(x, y *catalog.Item) {
	return func(x, y *catalog.Item) { x.Handing, y.Handing = a, b }
}

// inFinish: B is in the finish, A in another one.
func inFinish(name string) brings {
	f, ok := catalog.FindFinish(name, "")
	if g, _ := catalog.FindFinish(name, "steel"); f.Number == "" {
		f = g
	}
	if !ok || f.Number == "" {
		panic(name)
	}
	return brings{two: second(func(b *catalog.Item) { b.Finish, b.FinishNo = f.US, f.Number }), want: []string{"first B", "A: Asked for in {words}"}}
}

var (
	noSuchFinish = func(name string) brings {
		return brings{want: []string{"A: Asked for in “" + name + "”, and no finish is known by that name"}}
	}
	otherKind = func(name string) brings {
		return brings{want: []string{"A: A " + name + " hinge is spoken of; by its name this one is none."}}
	}
	hardwood = brings{want: []string{"Lead hole for #9: in hardwood"}}
	softwood = brings{gone: []string{", in hardwood"}}
	leftHand = brings{two: hands("right", "left"), want: []string{"first B", "A: It is handed: right; by what was said the door takes left ones."},
		gone: []string{"question: Which way does the door swing?"}}
	rightHand = brings{two: hands("left", "right"), want: []string{"first B", "A: It is handed: left; by what was said the door takes right ones."},
		gone: []string{"question: Which way does the door swing?"}}
)

// facts has one row for each statement that is understood.
var facts = map[string]brings{
	"corner=square":  {two: second(func(b *catalog.Item) { b.Radius = [2]measure.Length{} }), want: []string{"first B"}},
	"corner=round":   {two: second(func(b *catalog.Item) { b.Radius = [2]measure.Length{} }), want: []string{"B: Said to have round corners; this one's are square."}},
	"corner=quarter": {two: cheap(func(b *catalog.Item) { b.Radius = [2]measure.Length{15.875, 15.875} }), want: []string{"first A"}},

	"finish=satin nickel": inFinish("satin nickel"), "finish=bright nickel": inFinish("bright nickel"), "finish=satin chromium": inFinish("satin chromium"),
	"finish=bright chromium": inFinish("bright chromium"), "finish=bright brass": inFinish("bright brass"), "finish=satin brass": inFinish("satin brass"),
	"finish=antique brass": inFinish("antique brass"), "finish=oil-rubbed bronze": inFinish("oil-rubbed bronze"), "finish=satin bronze": inFinish("satin bronze"),
	"finish=bronze": inFinish("bronze"), "finish=brass": inFinish("brass"), "finish=flat black": inFinish("flat black"),
	"finish=satin stainless": inFinish("satin stainless"), "finish=zinc": inFinish("zinc"), "finish=primed": inFinish("primed"),
	"finish=nickel": inFinish("nickel"), "finish=gold": inFinish("gold"),
	"finish=white": noSuchFinish("white"), "finish=silver": noSuchFinish("silver"), "finish=pewter": noSuchFinish("pewter"),

	"bearing=ball": {two: second(func(b *catalog.Item) { b.Bearing = measure.BallBearing }), want: []string{"first B", "A: Asked for with ball bearings"}},
	"bearing=plain": {two: cheap(func(b *catalog.Item) { b.Bearing = measure.BallBearing }),
		want: []string{"first A", "B: Asked for with plain bearings"}},

	"fire_label=rated": {want: []string{"advice: Keep to the terms of the opening's label", "A: Fire-rated opening", "A: Plain bearing: a fire-rated opening"}},
	"fire_label=none":  {none: true},

	"pin=loose": {two: cheap(func(b *catalog.Item) { b.PinKind = "non-removable" }),
		want: []string{"first A", "B: Asked for with a loose pin; this one has a non-removable pin."}},
	"pin=non-removable": {two: second(func(b *catalog.Item) { b.PinKind = "non-removable" }),
		want: []string{"first B", "A: Asked for with a non-removable pin; this one has a loose pin."}},
	"pin=fixed": {two: second(func(b *catalog.Item) { b.PinKind = "fixed" }),
		want: []string{"first B", "A: Asked for with a fixed pin; this one has a loose pin."}},

	"handing=left": leftHand, "handing=right": rightHand,
	// Told from the other side of the door.
	"handing=left reverse": rightHand, "handing=right reverse": leftHand, "handing=din left": rightHand, "handing=din right": leftHand,

	"swing=out": {want: []string{"advice: Where the door swings out its pins are outside", "A: Loose pin: the door swings out"}},
	"swing=in":  {before: "front door. ", gone: []string{"advice: Where the door swings out", "A: Loose pin"}},

	"spring=spring": {two: second(func(b *catalog.Item) { b.Name = "Spring hinge" }), want: []string{"first B", "A: Asked for as a spring hinge"}},
	"spring=none": {two: second(func(b *catalog.Item) { b.Name = "Spring hinge" }), want: []string{"B: Asked for without a spring"},
		gone: []string{"B: It is a spring hinge, which nobody asked for"}},

	"type=lift-off": otherKind("lift-off"), "type=rising butt": otherKind("rising butt"), "type=double acting": otherKind("double acting"),
	"type=continuous": otherKind("continuous"), "type=concealed": otherKind("concealed"), "type=strap": otherKind("strap"),

	"leaf=lost": {photo: true, want: []string{"the other is lost and taken to be like it"}, gone: []string{"question: Please send one more photo that shows both leaves"}},
	"leaf=alike": {photo: true, want: []string{"the customer says that the other is like it"},
		gone: []string{"question: Please send one more photo that shows both leaves"}},

	"wood=oak": hardwood, "wood=maple": hardwood, "wood=mahogany": hardwood, "wood=birch": hardwood, "wood=walnut": hardwood, "wood=cherry": hardwood, "wood=hardwood": hardwood,
	"wood=pine": softwood, "wood=fir": softwood, "wood=poplar": softwood, "wood=softwood": softwood,
	"wood=mdf":         {want: []string{"advice: The door weighs about"}},
	"wood=steel":       {want: []string{"advice: In steel doors and frames"}},
	"wood=fibreglass":  {want: []string{"advice: A steel door at home is usually sheet steel on a frame with wooden stiles (a fibreglass one is built alike)"}},
	"wood=aluminium":   {want: []string{"advice: These tables do not apply to a door of aluminium"}},
	"wood=glass":       {want: []string{"advice: These tables do not apply to a glass door"}},
	"wood=hollow core": {want: []string{"advice: A hollow-core door holds screws only in its solid edge"}},
	"wood=solid core":  {want: []string{"advice: In a solid-core door's edge"}},

	"use=exterior": {want: []string{"advice: Stainless steel, brass, or steel with a finish made for outdoors", "A: Plated steel rusts outdoors", "A: Loose pin: if the door swings out"}},
	"use=coastal":  {want: []string{"advice: Stainless steel or brass: salt air", "A: Plated steel rusts in a coastal place", "A: Loose pin: if the door swings out"}},
	"use=bathroom": {want: []string{"advice: Stainless steel or brass: plated steel rusts", "A: Plated steel rusts in a wet place"}},
	"use=interior": {want: []string{"advice: Steel in the finish of the old hinges"}},
	"use=closer":   {want: []string{"advice: Bearing hinges, not plain ones: the door has a closer", "A: Plain bearing: a door with a closer"}},
	"use=heavy":    {weight: 30, want: []string{"advice: Bearing hinges; heavy doors in frequent use", "A: Plain bearing: a door in frequent use", "200,000 cycles"}},
	"use=medium":   {want: []string{"advice: Plain bearing is enough"}},
	"use=low":      {weight: 30, want: []string{"advice: Plain bearing is enough", "10,000 cycles"}},
}

// saidShelf is the shelf that a statement chooses from.
func saidShelf(t *testing.T, two func(a, b *catalog.Item)) []catalog.Item {
	t.Helper()
	const list = "stock number,description,height (in),open width (in),leaf thickness (in),corner radius (in),holes (in),hole diameter (in),pin kind,bearing,base metal,finish,mortise,price,on hand\n" +
		"A,Hinge,3.5,3.5,0.085,1/4,23/32 x 9/16; 13/32 x 1-3/4; 23/32 x 2-15/16,0.193,loose,plain,steel,US2C,full mortise,4.00,50\n" +
		"B,Hinge,3.5,3.5,0.085,1/4,23/32 x 9/16; 13/32 x 1-3/4; 23/32 x 2-15/16,0.193,loose,plain,steel,US2C,full mortise,5.00,50\n"
	sheet, err := catalog.ReadSheet(strings.NewReader(list))
	require.NoError(t, err)
	items, report := catalog.ParseStock(sheet, catalog.ListOptions{Currency: "USD"})
	require.Zero(t, report.Errors, report)
	require.Len(t, items, 2)
	if two != nil {
		two(&items[0], &items[1])
	}
	return items
}

// told is everything that a proposal says, a line each.
func told(p Proposal) string {
	var out []string
	add := func(what string, lines ...string) {
		for _, l := range lines {
			out = append(out, what+l)
		}
	}
	for _, f := range p.Fits {
		n := f.Item.StockNumber
		add(n+": ", f.Warnings...)
		add(n+": ", f.Reasons...)
	}
	if len(p.Fits) > 0 {
		add("first ", p.Fits[0].Item.StockNumber)
	}
	if p.Question != nil {
		add("question: ", p.Question.Text)
	}
	for _, a := range p.Advice {
		add("advice: ", a.Text)
	}
	return strings.Join(out, "\n")
}

func (b brings) proposal(t *testing.T, words string) Proposal {
	q := Inquiry{ID: 1, Revision: 1, Door: catalog.Door{Width: 32 * measure.Inch, Height: 80 * measure.Inch, Thickness: 1.375 * measure.Inch, Weight: b.weight}}
	shelf := saidShelf(t, b.two)
	text := b.before + words
	var findings []Finding
	if b.photo {
		e := func(l measure.Length) measure.Estimate { return measure.Estimate{Value: l, Sigma: 0.05} }
		leaf := measure.Leaf{Width: e(shelf[0].OpenWidth / 2), CornerRadius: e(shelf[0].Radius[0]), Corners: measure.CornersQuarter}
		for _, h := range shelf[0].Holes {
			leaf.Holes = append(leaf.Holes, measure.Hole{FromEdge: e(h.FromEdge), FromEnd: e(h.FromEnd), Diameter: e(shelf[0].HoleDia)})
		}
		findings = []Finding{{Result: measure.Result{Status: measure.Measured, Hinge: &measure.Hinge{Height: e(shelf[0].Height), Leaves: []measure.Leaf{leaf}}}}}
		text = "0.085 thick. " + text
	} else {
		text = "3 1/2 x 3 1/2 in. " + text
	}
	return propose(q, readings.Parse(text), findings, shelf)
}

// Every wording that is understood as a statement changes what counter and customer are told.
func TestWordsBecomeAdvice(t *testing.T) {
	rows := map[string]bool{}
	for _, s := range readings.Statements() {
		name := s.Kind + "=" + s.Value
		row, ok := facts[name]
		require.True(t, ok, "%s (“%s”) has no row: what does it bring about?", name, s.Text)
		rows[name] = true
		t.Run(s.Kind+" "+s.Text, func(t *testing.T) {
			without, with := row.proposal(t, ""), row.proposal(t, s.Text+".")
			heard := with.Readings.Statements
			require.Contains(t, fmt.Sprint(heard), fmt.Sprintf("{%s %s ", s.Kind, s.Value))
			if row.none {
				require.Equal(t, told(without), told(with))
				return
			}
			require.NotEmpty(t, cmp.Or(strings.Join(row.want, ""), strings.Join(row.gone, "")))
			for _, want := range row.want {
				want = strings.ReplaceAll(want, "{words}", s.Text)
				require.Contains(t, told(with), want)
				require.NotContains(t, told(without), want)
			}
			for _, gone := range row.gone {
				require.Contains(t, told(without), gone)
				require.NotContains(t, told(with), gone)
			}
		})
	}
	for name := range facts {
		require.True(t, rows[name], "nothing is read as %s", name)
	}
}
