package api

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"net/http"
	"strconv"
	"sync"

	"leafgauge/intake"
	"leafgauge/measure/draw"
	"leafgauge/quote"

	"github.com/disintegration/imaging"
)

// shownPx is the longest side of a photo or an overlay on a page.
const shownPx = 1600

// pictures keeps the JPEGs that pages show: making one decodes a whole photo, so at most one
// is made at a time, and the newest few are kept.
type pictures struct {
	making chan struct{}
	mu     sync.Mutex
	kept   map[string][]byte
	order  []string
}

const picturesKept = 40 // of about 300 kB each

func newPictures() *pictures {
	return &pictures{making: make(chan struct{}, 1), kept: map[string][]byte{}}
}

func (p *pictures) get(name string) ([]byte, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	b, ok := p.kept[name]
	return b, ok
}

func (p *pictures) put(name string, b []byte) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if _, ok := p.kept[name]; !ok {
		p.order = append(p.order, name)
	}
	p.kept[name] = b
	for len(p.order) > picturesKept {
		delete(p.kept, p.order[0])
		p.order = p.order[1:]
	}
}

// sendPhoto shows one photo of an inquiry, upright, the inside of its card painted over; ?file=1 sends it in its full size,
// as it was kept where no card was found in it.
func (s *server) sendPhoto(w http.ResponseWriter, r *http.Request, d quote.Dossier) error {
	photo, err := numbered(r, d)
	if err != nil {
		return err
	}
	name, cover := photo.SHA256, func(img image.Image) image.Image { return img }
	found := findingOf(d, photo.N)
	if found != nil && found.Result.Card != nil {
		name = fmt.Sprintf("%s of inquiry %d at %d", photo.SHA256, d.Inquiry.ID, found.Revision)
		cover = func(img image.Image) image.Image { return draw.CoverCard(img, found.Result) }
	}
	if r.URL.Query().Get("file") == "" {
		return s.sendShown(w, r, d.Inquiry.ID, photo, name, cover)
	}
	format := plainName(photo.Format)
	var b []byte
	if name == photo.SHA256 {
		b, err = s.desk.PhotoBytes(r.Context(), photo.SHA256)
	} else {
		format = "jpeg"
		b, err = s.drawn(r, photo, cover, fileQuality)
	}
	if err != nil {
		return fmt.Errorf("api: photo %d of inquiry %d: %w", photo.N, d.Inquiry.ID, err)
	}
	w.Header().Set("Content-Disposition", fmt.Sprintf(`attachment; filename="inquiry-%d-photo-%d.%s"`, d.Inquiry.ID, photo.N, format))
	return sendPicture(w, "image/"+format, b)
}

// findingOf is what was found in the inquiry's photo n, nil where it is not measured.
func findingOf(d quote.Dossier, n int) *quote.Finding {
	for i := range d.Findings {
		if d.Findings[i].PhotoN == n {
			return &d.Findings[i]
		}
	}
	return nil
}

// overlay shows a photo with what was measured drawn over it.
func (s *server) overlay(w http.ResponseWriter, r *http.Request) error {
	d, err := s.dossier(r)
	if err != nil {
		return err
	}
	photo, err := numbered(r, d)
	if err != nil {
		return err
	}
	if f := findingOf(d, photo.N); f != nil {
		name := fmt.Sprintf("%s overlay of inquiry %d at %d", photo.SHA256, d.Inquiry.ID, f.Revision)
		return s.sendShown(w, r, d.Inquiry.ID, photo, name, func(img image.Image) image.Image { return draw.Overlay(img, f.Result) })
	}
	return &fault{status: http.StatusNotFound, code: "not_found", detail: "This photo is not measured yet."}
}

// sendShown sends a photo with something drawn on it, no larger than a page shows.
func (s *server) sendShown(w http.ResponseWriter, r *http.Request, id quote.ID, photo quote.Photo, name string, draw func(image.Image) image.Image) error {
	b, ok := s.pictures.get(name)
	if !ok {
		var err error
		small := func(img image.Image) image.Image { return imaging.Fit(draw(img), shownPx, shownPx, imaging.Box) }
		if b, err = s.drawn(r, photo, small, shownQuality); err != nil {
			return fmt.Errorf("api: photo %d of inquiry %d: %w", photo.N, id, err)
		}
		s.pictures.put(name, b)
	}
	return sendPicture(w, "image/jpeg", b)
}

// The JPEG quality of what a page shows, and of a whole file.
const shownQuality, fileQuality = 85, 95

// drawn decodes a photo, one at a time, draws on it and encodes it.
func (s *server) drawn(r *http.Request, photo quote.Photo, draw func(image.Image) image.Image, quality int) ([]byte, error) {
	select {
	case s.pictures.making <- struct{}{}:
		defer func() { <-s.pictures.making }()
	case <-r.Context().Done():
		return nil, r.Context().Err()
	}
	file, err := s.desk.PhotoBytes(r.Context(), photo.SHA256)
	if err != nil {
		return nil, err
	}
	admitted := photo.Photo
	admitted.Bytes = file
	img, err := intake.Decode(admitted)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, draw(img), &jpeg.Options{Quality: quality}); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func numbered(r *http.Request, d quote.Dossier) (quote.Photo, error) {
	n, err := strconv.Atoi(r.PathValue("n"))
	if err == nil {
		for _, p := range d.Inquiry.Photos {
			if p.N == n {
				return p, nil
			}
		}
	}
	return quote.Photo{}, errNoSuchPage
}

func sendPicture(w http.ResponseWriter, kind string, b []byte) error {
	h := w.Header()
	h.Set("Content-Type", kind)
	h.Set("Content-Security-Policy", "default-src 'none'; sandbox")
	h.Set("Cache-Control", "private, max-age=600")
	w.Write(b)
	return nil
}
