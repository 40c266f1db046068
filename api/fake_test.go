package api

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"leafgauge/catalog"
	"leafgauge/intake"
	"leafgauge/measure"
	"leafgauge/quote"

	"github.com/bojanz/currency"
	"github.com/stretchr/testify/require"
)

// fakeDesk keeps inquiries in memory. It checks moves and versions as a desk must, and
// measures nothing: a test puts the dossier it needs.
type fakeDesk struct {
	mu     sync.Mutex
	byID   map[quote.ID]*quote.Dossier
	keys   map[string]quote.ID
	once   map[string]quote.Receipt
	photos map[string][]byte
	stock  []catalog.Item
	now    time.Time
	down   error // acts out an outage
}

func newFakeDesk() *fakeDesk {
	return &fakeDesk{byID: map[quote.ID]*quote.Dossier{}, keys: map[string]quote.ID{}, once: map[string]quote.Receipt{},
		photos: map[string][]byte{}, stock: demoStock(), now: time.Date(2026, 3, 2, 9, 30, 0, 0, time.UTC)}
}

func (f *fakeDesk) clock() time.Time { return f.now }

func (f *fakeDesk) Receive(ctx context.Context, s quote.Submission) (quote.Receipt, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.down != nil {
		return quote.Receipt{}, f.down
	}
	if r, ok := f.once[s.Once]; ok && s.Once != "" {
		r.Again = true
		return r, nil
	}
	id := quote.ID(len(f.byID) + 1)
	q := quote.Inquiry{ID: id, Status: quote.Received, Revision: 1, Version: 1, Source: s.Source, Contact: s.Contact,
		Text: s.Text, Door: s.Door, Wishes: s.Wishes, Created: f.now, Updated: f.now}
	for n, p := range s.Photos {
		f.photos[p.SHA256] = p.Bytes
		p.Bytes = nil
		q.Photos = append(q.Photos, quote.Photo{Photo: p, N: n + 1, Added: f.now})
	}
	key := "key" + strconv.Itoa(int(id)) + "abcdefghijklmnopqrstuvw"
	d := &quote.Dossier{Inquiry: q}
	f.byID[id], f.keys[key] = d, id
	f.event(d, quote.ByCustomer, "", "received", "", quote.Received)
	r := quote.Receipt{Inquiry: q, Key: key, Link: "http://shop.test/i/" + key}
	f.once[s.Once] = r
	return r, nil
}

func (f *fakeDesk) event(d *quote.Dossier, by quote.Role, who, what, text string, to quote.Status) {
	d.Events = append(d.Events, quote.Event{At: f.now, By: by, Who: who, What: what, Text: text, From: d.Inquiry.Status, To: to})
	d.Inquiry.Status = to
	d.Inquiry.Version++
}

func (f *fakeDesk) ByKey(ctx context.Context, key string) (quote.Dossier, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.down != nil {
		return quote.Dossier{}, f.down
	}
	id, ok := f.keys[key]
	if !ok {
		return quote.Dossier{}, quote.ErrNotFound
	}
	return *f.byID[id], nil
}

func (f *fakeDesk) Dossier(ctx context.Context, id quote.ID) (quote.Dossier, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.down != nil {
		return quote.Dossier{}, f.down
	}
	d, ok := f.byID[id]
	if !ok {
		return quote.Dossier{}, quote.ErrNotFound
	}
	return *d, nil
}

// act moves an inquiry as the table of moves allows.
func (f *fakeDesk) act(id quote.ID, version int, by quote.Role, who, what, text string, to quote.Status, also func(*quote.Dossier)) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.down != nil {
		return f.down
	}
	d, ok := f.byID[id]
	switch {
	case !ok:
		return quote.ErrNotFound
	case version >= 0 && version != d.Inquiry.Version:
		return quote.ErrStale
	case to != "" && !quote.May(d.Inquiry.Status, to, by):
		return quote.ErrMove
	}
	if to == "" {
		to = d.Inquiry.Status
	}
	f.event(d, by, who, what, text, to)
	if also != nil {
		also(d)
	}
	return nil
}

func (f *fakeDesk) Add(ctx context.Context, id quote.ID, by quote.Role, who string, photos []intake.Photo, text, messageID string) (quote.Inquiry, error) {
	var out quote.Inquiry
	err := f.act(id, -1, by, who, "added", text, quote.Measuring, func(d *quote.Dossier) {
		for _, p := range photos {
			f.photos[p.SHA256] = p.Bytes
			d.Inquiry.Photos = append(d.Inquiry.Photos, quote.Photo{Photo: p, N: len(d.Inquiry.Photos) + 1, Added: f.now})
		}
		d.Inquiry.Text = strings.TrimSpace(d.Inquiry.Text + "\n" + text)
		d.Inquiry.Revision++
		out = d.Inquiry
	})
	return out, err
}

func (f *fakeDesk) List(ctx context.Context, flt quote.Filter) ([]quote.Summary, int, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.down != nil {
		return nil, 0, f.down
	}
	var all []quote.Summary
	for id := quote.ID(1); int(id) <= len(f.byID); id++ {
		d := f.byID[id]
		q := d.Inquiry
		if len(flt.Statuses) > 0 && !slices.Contains(flt.Statuses, q.Status) || len(flt.Statuses) == 0 && !flt.All && !q.Status.Open() ||
			flt.Turn != "" && q.Status.Turn() != flt.Turn || !strings.Contains(strings.ToLower(q.Contact.Name+q.Contact.Email+q.Text), strings.ToLower(flt.Search)) {
			continue
		}
		s := quote.Summary{Inquiry: q, Turn: q.Status.Turn()}
		if p := d.Proposal; p != nil && len(p.Fits) > 0 {
			s.Best, s.Top, s.Fit, s.P = p.Best.Nominal.Size, p.Fits[0].Item.StockNumber, string(p.Fits[0].Verdict), p.Fits[0].P
		}
		all = append(all, s)
	}
	if flt.Sort == quote.SortNewest {
		slices.Reverse(all)
	}
	total := len(all)
	all = all[min(flt.Offset, total):]
	return all[:min(flt.Limit, len(all))], total, nil
}

func (f *fakeDesk) Figures(ctx context.Context) (quote.Figures, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	var tallies []quote.Tally
	for _, d := range f.byID {
		tallies = append(tallies, d.Tally())
	}
	return quote.NewFigures(tallies, len(tallies), f.now), f.down
}

func (f *fakeDesk) PhotoBytes(ctx context.Context, sha256 string) ([]byte, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	b, ok := f.photos[sha256]
	if !ok {
		return nil, quote.ErrNotFound
	}
	return b, nil
}

func (f *fakeDesk) Stock(ctx context.Context) ([]catalog.Item, error) { return f.stock, f.down }

func (f *fakeDesk) Price(ctx context.Context, id quote.ID, a quote.Approval) (quote.Quote, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	d, ok := f.byID[id]
	if !ok {
		return quote.Quote{}, quote.ErrNotFound
	}
	i := slices.IndexFunc(f.stock, func(i catalog.Item) bool { return i.StockNumber == a.StockNumber })
	if i < 0 {
		return quote.Quote{}, &intake.InvalidError{Field: "stock_number", Code: "field", Text: "There is no hinge " + a.StockNumber + " on the stock list."}
	}
	item := f.stock[i]
	each, _ := item.PriceAt(a.Count)
	if a.Each != nil {
		each = *a.Each
	}
	sum, _ := each.Mul(strconv.Itoa(a.Count))
	tax, _ := sum.Mul("0.0825")
	tax = tax.Round()
	total, _ := sum.Add(tax)
	q := quote.Quote{Number: "Q-" + strconv.Itoa(int(id)) + "-1", Inquiry: id, Net: sum, TaxRate: "8.25", Tax: tax, Total: total,
		Lines: []quote.Line{{StockNumber: item.StockNumber, Text: item.Name, Count: a.Count, Each: each, Sum: sum}},
		Made:  f.now, Valid: f.now.AddDate(0, 0, 30), Message: a.Message,
		Notes:    []string{"Sold in packs of 2: three are needed, four come."},
		Cautions: []string{"Wedge the door before you take a pin out: a door weighs more than it looks.", "Houses from before 1978 may have lead paint: do not sand it dry."}}
	if p := d.Proposal; p != nil {
		q.Old = p.Best
		for _, fit := range p.Fits {
			if fit.Item.StockNumber == item.StockNumber {
				q.Fit = fit
			}
		}
	}
	return q, nil
}

func (f *fakeDesk) Approve(ctx context.Context, id quote.ID, version int, who string, a quote.Approval) (quote.Quote, error) {
	q, err := f.Price(ctx, id, a)
	if err != nil {
		return q, err
	}
	if against := q.Fit.AgainstSaid(); len(against) > 0 && !a.ConfirmedAgainst {
		return q, &intake.InvalidError{Field: "confirm_against", Code: quote.AgainstNotConfirmed, Text: against[0]}
	}
	q.By = who
	err = f.act(id, version, quote.ByCounter, who, "approved", a.Message, quote.Approved, func(d *quote.Dossier) {
		d.Quotes = append([]quote.Quote{q}, d.Quotes...)
		f.event(d, quote.ByProgram, "", "quoted", q.Number, quote.Quoted)
	})
	return q, err
}

func (f *fakeDesk) Revise(ctx context.Context, id quote.ID, version int, who string, a quote.Approval) (quote.Quote, error) {
	q, err := f.Price(ctx, id, a)
	if err != nil {
		return q, err
	}
	q.Number = "Q-" + strconv.Itoa(int(id)) + "-2"
	err = f.act(id, version, quote.ByCounter, who, "revised", a.Message, quote.Quoted, func(d *quote.Dossier) { d.Quotes = append([]quote.Quote{q}, d.Quotes...) })
	return q, err
}

func (f *fakeDesk) Resend(ctx context.Context, id quote.ID, version int, who string) error {
	return f.act(id, version, quote.ByCounter, who, "sent the quote again", "", quote.Quoted, nil)
}

func (f *fakeDesk) Extend(ctx context.Context, id quote.ID, version int, who string, until time.Time, message string) error {
	return f.act(id, version, quote.ByCounter, who, "extended the quote", message, quote.Quoted, func(d *quote.Dossier) {
		for i := range d.Quotes[:min(1, len(d.Quotes))] {
			d.Quotes[i].Valid = until
		}
	})
}

func (f *fakeDesk) AskPhoto(ctx context.Context, id quote.ID, version int, who, message string) error {
	return f.act(id, version, quote.ByCounter, who, "asked for a photo", message, quote.NeedsPhoto, func(d *quote.Dossier) { d.Inquiry.Question = message })
}

func (f *fakeDesk) AskQuestion(ctx context.Context, id quote.ID, version int, who, question string) error {
	return f.act(id, version, quote.ByCounter, who, "asked", question, quote.NeedsAnswer, func(d *quote.Dossier) { d.Inquiry.Question = question })
}

func (f *fakeDesk) Decline(ctx context.Context, id quote.ID, version int, who, message string) error {
	return f.act(id, version, quote.ByCounter, who, "declined", message, quote.Declined, nil)
}

func (f *fakeDesk) Withdraw(ctx context.Context, id quote.ID, by quote.Role, who string) error {
	return f.act(id, -1, by, who, "withdrawn", "", quote.Withdrawn, nil)
}

func (f *fakeDesk) Decide(ctx context.Context, id quote.ID, by quote.Role, who string, dec quote.Decision) error {
	to := quote.Lost
	if dec.Won {
		to = quote.Won
	}
	if d := f.byID[id]; d != nil && len(d.Quotes) > 0 {
		switch newest := d.Quotes[0]; {
		case dec.Quote != "" && dec.Quote != newest.Number:
			return quote.ErrReplaced
		case dec.Won && newest.Expired(f.now):
			return quote.ErrExpired
		}
	}
	return f.act(id, -1, by, who, string(to), dec.Why, to, nil)
}

func (f *fakeDesk) Overrule(ctx context.Context, id quote.ID, version int, who, slip string, overrule bool) error {
	return f.act(id, version, quote.ByCounter, who, "overruled", slip, quote.Measuring, func(d *quote.Dossier) {
		d.Inquiry.Overrule = append(d.Inquiry.Overrule, slip)
	})
}

func (f *fakeDesk) Note(ctx context.Context, id quote.ID, who, text string) error {
	return f.act(id, -1, quote.ByCounter, who, "note", text, "", nil)
}

func (f *fakeDesk) SignIn(ctx context.Context, name, password string) (quote.User, error) {
	switch {
	case f.down != nil:
		return quote.User{}, f.down
	case name == "ruth" && password == "brass screws":
		return quote.User{Name: "ruth"}, nil
	case name == "olive" && password == "oak doors":
		return quote.User{Name: "olive", Owner: true}, nil
	}
	return quote.User{}, quote.ErrNotFound
}

func usd(n string) currency.Amount {
	a, err := currency.NewAmount(n, "USD")
	if err != nil {
		panic(err)
	}
	return a
}

// demoStock is two invented hinges.
func demoStock() []catalog.Item {
	holes := []catalog.Hole{{FromEdge: 19, FromEnd: 15.5}, {FromEdge: 10.5, FromEnd: 44.45}, {FromEdge: 19, FromEnd: 73.4}}
	one := catalog.Item{StockNumber: "H-1041", Name: "Butt hinge 3 1/2 x 3 1/2, 1/4 in corners", Height: 88.9, OpenWidth: 88.9, Tolerance: 0.25,
		Thickness: 2.18, Radius: [2]measure.Length{6.35, 6.35}, Holes: holes, HoleDia: 4.9, Sink: 8.8, Barrel: 10.8, Knuckles: 5,
		Bearing: measure.PlainBearing, BaseMetal: "steel", Finish: "US15", FinishNo: "646", Screw: "#9 x 1", PackSize: 2, SoldIn: 2,
		Prices: []catalog.PriceBreak{{From: 1, Price: usd("3.40")}, {From: 12, Price: usd("2.95")}}, OnHand: 46}
	two := one
	two.StockNumber, two.Name, two.Bearing, two.Radius = "H-1077", "Butt hinge 3 1/2 x 3 1/2, 5/8 in corners, ball bearing", measure.BallBearing, [2]measure.Length{15.875, 15.875}
	two.OnHand, two.LeadDays = 0, 6
	return []catalog.Item{one, two}
}

// measuredHinge is a 3 1/2 in hinge as a photo would give it.
func measuredHinge() measure.Hinge {
	e := func(v, u measure.Length) measure.Estimate { return measure.Estimate{Value: v, Sigma: u} }
	leaf := func() measure.Leaf {
		l := measure.Leaf{Width: e(44.5, 0.04), CornerRadius: e(6.3, 0.09), Corners: measure.CornersQuarter}
		for _, h := range [][2]measure.Length{{19.05, 15.44}, {10.46, 44.5}, {19.02, 73.47}} {
			l.Holes = append(l.Holes, measure.Hole{FromEdge: e(h[0], 0.04), FromEnd: e(h[1], 0.04), Diameter: e(4.9, 0.06), Countersink: e(8.8, 0.08)})
		}
		return l
	}
	return measure.Hinge{Height: e(88.94, 0.08), OpenWidth: e(89.01, 0.08), BarrelDiameter: e(10.8, 0.07), Knuckles: 5, Bearing: measure.PlainBearing,
		Leaves: []measure.Leaf{leaf(), leaf()}, Nominal: measure.Nominal{Size: "3 1/2 x 3 1/2", P: 0.985}, Pattern: measure.PatternArc, FinishHint: "satin nickel"}
}

// ready gives inquiry id what the program would have found.
func (f *fakeDesk) ready(id quote.ID, status quote.Status) {
	f.mu.Lock()
	defer f.mu.Unlock()
	d := f.byID[id]
	hinge := measuredHinge()
	d.Findings = []quote.Finding{{Inquiry: id, Revision: 1, PhotoN: 1, Result: measure.Result{Status: measure.Measured, RetakeReasons: []measure.Reason{},
		Camera: &measure.CameraInfo{Distance: 240, TiltDeg: 6}, Hinge: &hinge}}}
	width := measure.Length(44.45)
	fixed := measure.Length(88.9)
	best := measure.Best{Hinge: hinge, Thickness: measure.Estimate{Value: 2.18, Sigma: 0.01},
		Trace: []measure.Trace{{Quantity: "height", Source: "photo 1", Input: hinge.Height, Weight: 0.93, Residual: 0.2, Used: true}},
		Disagreements: []measure.Disagreement{{Quantity: measure.QOpenWidth, Slip: "leaf_width", Typed: "1 3/4", Odds: 240, Corrects: &fixed, Applied: true,
			Sentence: "typed 1 3/4 wide; that is one leaf; the photo says 3 1/2 open"}}}
	fits := []catalog.Fit{}
	for n, item := range f.stock {
		fit := catalog.Fit{Item: item, Verdict: catalog.DropsIn, P: 0.94, PDropsIn: 0.94, Placement: "as it was",
			Work: []string{"Screws into the old holes; nothing else is left."}, Reasons: []string{"height, width and corners agree within 0.2 mm"}}
		for leaf := range 2 {
			for h, hole := range item.Holes {
				fit.Holes = append(fit.Holes, catalog.HoleFit{Leaf: leaf, Hole: h, New: hole, Off: 0.1, Fate: catalog.HoleLands, PFate: 0.97})
			}
		}
		if n > 0 {
			fit.Verdict, fit.P, fit.PDropsIn = catalog.CutOutWork, 0.9, 0.03
			fit.Work = []string{"The corners of the cut-out are tighter than the new ones: fill about 3.9 mm (5/32 in) at each corner or leave the gaps."}
			fit.Warnings = []string{"None on hand: six days to get."}
		}
		fits = append(fits, fit)
	}
	d.Proposal = &quote.Proposal{Inquiry: id, Revision: 1, Best: best, Fits: fits, Count: 3, Counted: catalog.HingeCount{Told: 3}, Made: f.now,
		Readings: measure.Readings{Readings: []measure.Reading{{Quantity: measure.QOpenWidth, Value: &width, Text: "1 3/4", Instrument: measure.Tape, U: 0.4}},
			Statements: []measure.Statement{{Kind: "finish", Value: "satin nickel", Text: "satin nickel"}}, Unread: []string{"about three and a bit"}},
		Question: &catalog.Question{Quantity: measure.QThickness, Text: "How thick is one leaf? Measure its edge with a caliper if you can.", Where: "thickness"},
		Advice: []catalog.Advice{{Topic: "count", Text: "Three hinges for a door 80 in tall.", Source: "NFPA 80 § 6.4.3", Mark: "source seen"},
			{Topic: "fire", Text: "Keep the label's terms and ask the authority having jurisdiction.", Caution: true}}}
	f.event(d, quote.ByProgram, "", "measured", "", status)
	if status == quote.NeedsAnswer {
		d.Inquiry.Question = d.Proposal.Question.Text
	}
	if status == quote.NeedsPhoto {
		d.Findings[0].Result = measure.Result{Status: measure.Retake, RetakeReasons: []measure.Reason{measure.CardMissing, measure.Blurred}}
		d.Proposal = nil
		d.Inquiry.Question = measure.CardMissing.Advice() + "\n" + measure.Blurred.Advice()
	}
}

// photoFile is a small JPEG that a phone could have sent.
func photoFile(t testing.TB) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 640, 480))
	for y := range 480 {
		for x := range 640 {
			img.SetGray(x, y, color.Gray{uint8(127 + 100*math.Sin(float64(x*y)/4000))})
		}
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, nil))
	return b.Bytes()
}
