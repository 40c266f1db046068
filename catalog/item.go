package catalog

import (
	"fmt"
	"math"
	"strings"

	"leafgauge/measure"

	"github.com/bojanz/currency"
)

// An Item is one stock hinge.
type Item struct {
	StockNumber string         `json:"stock_number"` // unique
	Name        string         `json:"name"`
	Height      measure.Length `json:"height_mm"`
	OpenWidth   measure.Length `json:"open_width_mm"`
	Tolerance   measure.Length `json:"tolerance_mm"` // half-width of the maker's limits on height and width
	Thickness   measure.Length `json:"thickness_mm"`
	// Corners per leaf and their radius; a leaf pair may differ.
	Radius    [2]measure.Length `json:"radius_mm"` // 0 is square
	PatternID string            `json:"pattern"`   // name of a shared pattern; "" where Holes is its own
	Holes     []Hole            `json:"holes"`     // of one leaf; the other mirrors it at the pin
	HoleDia   measure.Length    `json:"hole_diameter_mm"`
	HoleU     measure.Length    `json:"hole_u_mm"` // standard uncertainty of Holes where a sample was measured; 0 by drawing
	Sink      measure.Length    `json:"countersink_mm"`
	Barrel    measure.Length    `json:"barrel_diameter_mm"`
	Pin       measure.Length    `json:"pin_diameter_mm"`
	PinKind   string            `json:"pin_kind"` // loose, fixed, non-removable
	Knuckles  int               `json:"knuckles"`
	Bearing   measure.Bearing   `json:"bearing"`
	BaseMetal string            `json:"base_metal"`  // steel, stainless, brass
	Finish    string            `json:"finish"`      // US symbol, such as US26D
	FinishNo  string            `json:"finish_bhma"` // BHMA number, such as 652
	Mortise   string            `json:"mortise"`     // full mortise, half mortise, half surface, full surface
	Handing   string            `json:"handing"`     // "" either, left, right
	Screw     string            `json:"screw"`       // "#9 x 1"
	TypeNo    string            `json:"type_number"` // standard type number where known
	PackSize  int               `json:"pack_size"`   // hinges in a pack
	SoldIn    int               `json:"sold_in"`     // hinges are sold in multiples of this
	Prices    []PriceBreak      `json:"prices"`      // by From, ascending; the first has From 1
	OnHand    int               `json:"on_hand"`     // hinges
	LeadDays  int               `json:"lead_days"`   // when not on hand
	Gone      bool              `json:"discontinued"`
	ReplaceBy string            `json:"replaced_by"`
}

// A Hole is a screw hole's place on a leaf: from the outer edge, from one end.
type Hole struct {
	FromEdge measure.Length `json:"from_edge_mm"`
	FromEnd  measure.Length `json:"from_end_mm"`
}

// A PriceBreak is the price of one hinge when at least From are bought.
type PriceBreak struct {
	From  int             `json:"from"`
	Price currency.Amount `json:"price"`
}

// PriceAt returns the price of one hinge when count are bought.
func (i Item) PriceAt(count int) (currency.Amount, error) {
	var price currency.Amount
	found := false
	for _, b := range i.Prices {
		if b.From <= count {
			price, found = b.Price, true
		}
	}
	if !found {
		return price, fmt.Errorf("catalog: %s has no price for %s: give it one in the stock list", i.StockNumber, Count(count, "hinge", "hinges"))
	}
	return price, nil
}

// Size is the trade size, height first: "3 1/2 x 3 1/2", or "90 x 76 mm" where it is no
// inch size.
func (i Item) Size() string { return SizeText(i.Height, i.OpenWidth) }

// SizeText writes a size height first, in inches where both are within 0.1 mm of an eighth.
func SizeText(height, width measure.Length) string {
	if nearEighth(height) && nearEighth(width) {
		return height.Fraction(8) + " x " + width.Fraction(8)
	}
	return fmt.Sprintf("%.4g x %.4g mm", height.MM(), width.MM())
}

// spring reports a spring hinge: the stock list says so in its description only.
func (i *Item) spring() bool { return strings.Contains(strings.ToLower(i.Name), "spring") }

func nearEighth(l measure.Length) bool {
	e := l.Inches() * 8
	return math.Abs(e-math.Round(e))*measure.Inch.MM()/8 < 0.1
}

// CornerText says how the corners of a leaf pair are made: "square", "1/4 in radius",
// "1/4 in radius and square".
func CornerText(r [2]measure.Length) string {
	if r[0] == r[1] {
		return cornerWords(r[0])
	}
	return cornerWords(r[0]) + " and " + cornerWords(r[1])
}
