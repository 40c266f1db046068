package measure

import "encoding/json"

// A Pixel is a place in the upright picture, x right and y down. (0, 0) is the outer corner
// of the top-left pixel, so that pixel's centre lies at (0.5, 0.5). JSON: [x, y].
type Pixel struct{ X, Y float64 }

// MarshalJSON writes p as [x, y].
func (p Pixel) MarshalJSON() ([]byte, error) { return json.Marshal([2]float64{p.X, p.Y}) }

// UnmarshalJSON reads [x, y].
func (p *Pixel) UnmarshalJSON(b []byte) error {
	var a [2]float64
	if err := json.Unmarshal(b, &a); err != nil {
		return err
	}
	p.X, p.Y = a[0], a[1]
	return nil
}

// A Point is a place on the table's plane, in millimetres.
type Point struct{ X, Y Length }
