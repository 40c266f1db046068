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

// sendPhoto shows one photo of an inquiry, upright; ?file=1 sends the file as kept.
func (s *server) sendPhoto(w http.ResponseWriter, r *http.Request, d quote.Dossier) error {
	photo, err := numbered(r, d)
	if err != nil {
		return err
	}
	if r.URL.Query().Get("file") != "" {
		b, err := s.desk.PhotoBytes(r.Context(), photo.SHA256)
		if err != nil {
			return fmt.Errorf("api: photo %d of inquiry %d: %w", photo.N, d.Inquiry.ID, err)
		}
		w.Header().Set("Content-Disposition", fmt.Sprintf(`attachment; filename="inquiry-%d-photo-%d.%s"`, d.Inquiry.ID, photo.N, plainName(photo.Format)))
		return sendPicture(w, "image/"+plainName(photo.Format), b)
	}
	return s.sendShown(w, r, d.Inquiry.ID, photo, photo.SHA256, func(img image.Image) image.Image { return img })
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
	for _, f := range d.Findings {
		if f.PhotoN == photo.N {
			name := fmt.Sprintf("%s overlay of inquiry %d at %d", photo.SHA256, d.Inquiry.ID, f.Revision)
			return s.sendShown(w, r, d.Inquiry.ID, photo, name, func(img image.Image) image.Image { return draw.Overlay(img, f.Result) })
		}
	}
	return &fault{status: http.StatusNotFound, code: "not_found", detail: "This photo is not measured yet."}
}

func (s *server) sendShown(w http.ResponseWriter, r *http.Request, id quote.ID, photo quote.Photo, name string, draw func(image.Image) image.Image) error {
	b, ok := s.pictures.get(name)
	if !ok {
		select {
		case s.pictures.making <- struct{}{}:
			defer func() { <-s.pictures.making }()
		case <-r.Context().Done():
			return r.Context().Err()
		}
		var err error
		if b, err = s.shown(r, photo, draw); err != nil {
			return fmt.Errorf("api: photo %d of inquiry %d: %w", photo.N, id, err)
		}
		s.pictures.put(name, b)
	}
	return sendPicture(w, "image/jpeg", b)
}

func (s *server) shown(r *http.Request, photo quote.Photo, draw func(image.Image) image.Image) ([]byte, error) {
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
	small := imaging.Fit(draw(img), shownPx, shownPx, imaging.Box)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, small, &jpeg.Options{Quality: 85}); err != nil {
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
