package api

import (
	"errors"
	"fmt"
	"html/template"
	"io"
	"maps"
	"mime"
	"mime/multipart"
	"net/http"
	"net/mail"
	"slices"
	"strconv"
	"strings"

	"leafgauge/catalog"
	"leafgauge/intake"
	"leafgauge/intake/readings"
	"leafgauge/measure"
	"leafgauge/quote"
)

// What one request may bring.
const (
	maxPhotoBytes = intake.MaxPhotoBytes
	maxBodyBytes  = 60 << 20
	maxTextBytes  = 100 << 10 // of one typed field
	// drainBytes is read and thrown away behind a body that is too large: a server that
	// hangs up while a browser still sends shows it a broken connection instead of words.
	drainBytes = 200 << 20
)

// A form is what a customer filled in, as typed, so that it can be shown again.
type form struct {
	Name, Email, Readings, Wanted        string
	Finish, Bearing, HingeCount          string
	DoorWidth, DoorHeight, DoorThickness string
	DoorCount, DoorCore, DoorMaterial    string
	DoorPlace, DoorUse, DoorWeight       string
	DoorInset, DoorClearance, DoorSwing  string
	DoorCloser, DoorFireRated            string
	Once                                 string
	uploads                              []upload
	Errors                               []fieldError
}

type upload struct {
	name string
	data []byte
}

// A fieldError is one thing that cannot be used and the sentence that says what to do.
type fieldError struct {
	Field string
	Text  string
	code  string
	size  bool // it was too much, not wrong
}

// fields maps the names on the wire to their places in f.
func (f *form) fields() map[string]*string {
	return map[string]*string{
		"name": &f.Name, "email": &f.Email, "readings": &f.Readings, "text": &f.Readings, "wanted": &f.Wanted,
		"wanted_finish": &f.Finish, "wanted_bearing": &f.Bearing, "wanted_count": &f.HingeCount,
		"door_width": &f.DoorWidth, "door_height": &f.DoorHeight, "door_thickness": &f.DoorThickness,
		"door_count": &f.DoorCount, "door_core": &f.DoorCore, "door_material": &f.DoorMaterial,
		"door_place": &f.DoorPlace, "door_use": &f.DoorUse, "door_weight": &f.DoorWeight,
		"door_inset": &f.DoorInset, "door_clearance": &f.DoorClearance, "door_swing": &f.DoorSwing,
		"door_closer": &f.DoorCloser, "door_fire_rated": &f.DoorFireRated, "once": &f.Once,
	}
}

func (f *form) wrong(field, code, text string) {
	f.Errors = append(f.Errors, fieldError{Field: field, Text: text, code: code})
}

// At returns what is wrong with one field, or nothing.
func (f *form) At(field string) fieldError {
	for _, e := range f.Errors {
		if e.Field == field {
			return e
		}
	}
	return fieldError{}
}

// Flaw is what a field says of itself: that it cannot be used, and which texts describe it.
func (f *form) Flaw(field string, hints ...string) template.HTMLAttr {
	flaw := ""
	if f.At(field).Text != "" {
		flaw, hints = `aria-invalid="true" `, append(hints, field+"-error")
	}
	if len(hints) > 0 {
		flaw += `aria-describedby="` + strings.Join(hints, " ") + `"`
	}
	return template.HTMLAttr(flaw)
}

// fault is the first thing that cannot be used as an answer of the API, with the others'
// sentences after it.
func (f *form) fault() error {
	if len(f.Errors) == 0 {
		return nil
	}
	first := f.Errors[0]
	status := http.StatusUnprocessableEntity
	if first.size {
		status = http.StatusRequestEntityTooLarge
	}
	var all []string
	for _, e := range f.Errors {
		all = append(all, e.Text)
	}
	return &fault{status: status, code: first.code, field: first.Field, detail: strings.Join(all, " ")}
}

// readForm reads a multipart or plain form. A request that cannot be read at all is an
// error; what was read and cannot be used stands in the form's Errors.
func readForm(w http.ResponseWriter, r *http.Request) (*form, error) {
	f := &form{}
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	switch kind {
	case "multipart/form-data":
	case "application/x-www-form-urlencoded":
		r.Body = http.MaxBytesReader(w, r.Body, 2<<20)
		if err := r.ParseForm(); err != nil {
			return f, unreadable(err)
		}
		fields := f.fields()
		for _, name := range slices.Sorted(maps.Keys(r.PostForm)) {
			f.take(fields, name, r.PostForm.Get(name))
		}
		return f, nil
	default:
		return f, &fault{status: http.StatusUnsupportedMediaType, code: "body_unreadable", detail: "Send the photo and the fields as multipart/form-data."}
	}
	body := r.Body
	r.Body = http.MaxBytesReader(w, body, maxBodyBytes)
	parts, err := r.MultipartReader()
	if err != nil {
		return f, unreadable(err)
	}
	fields := f.fields()
	seen := 0
	for {
		p, err := parts.NextPart()
		if err == io.EOF {
			return f, nil
		}
		if err != nil {
			return f, f.brokenOff(err, body)
		}
		name := p.FormName()
		if name == "photo" {
			if err := f.readPhoto(p, &seen); err != nil {
				return f, f.brokenOff(err, body)
			}
			continue
		}
		text, err := io.ReadAll(io.LimitReader(p, maxTextBytes+1))
		if err != nil {
			return f, f.brokenOff(err, body)
		}
		f.take(fields, name, string(text))
	}
}

// doorPrefix begins the name of every field about the door.
const doorPrefix = "door_"

// take sets a field by its name. A name that is none of the fields is passed over, but not one about
// the door: it is misspelt, and the advice would be for another door.
func (f *form) take(fields map[string]*string, name, text string) {
	if to := fields[name]; to != nil {
		f.set(name, to, text)
	} else if strings.HasPrefix(name, doorPrefix) {
		f.unknown("field", name)
	}
}

// unknown notes a name about the door that is not known, with those that are.
func (f *form) unknown(what, name string) {
	var known []string
	for n := range f.fields() {
		if strings.HasPrefix(n, doorPrefix) {
			known = append(known, n)
		}
	}
	slices.Sort(known)
	if r := []rune(name); len(r) > 40 {
		name = string(r[:40]) + "…"
	}
	f.wrong(name, "field", fmt.Sprintf("There is no %s “%s”. Those about the door are %s.", what, name, strings.Join(known, ", ")))
}

func (f *form) set(name string, to *string, text string) {
	if len(text) > maxTextBytes {
		text = strings.ToValidUTF8(text[:maxTextBytes], "")
		f.wrong(name, "field", fmt.Sprintf("That is more than %d kB of text; keep to the sizes and what matters about the door.", maxTextBytes>>10))
	}
	*to = strings.TrimSpace(strings.ToValidUTF8(strings.ReplaceAll(text, "\x00", ""), "�"))
}

func (f *form) readPhoto(p *multipart.Part, seen *int) error {
	data, err := io.ReadAll(io.LimitReader(p, maxPhotoBytes+1))
	if err != nil {
		return err
	}
	if len(data) == 0 && p.FileName() == "" {
		return nil // a browser sends this for an empty file field
	}
	*seen++
	switch {
	case len(data) > maxPhotoBytes:
		f.Errors = append(f.Errors, fieldError{"photo", fmt.Sprintf("%s is larger than %d MB. Send it as your phone saves it, or smaller.", shortName(p.FileName()), maxPhotoBytes>>20), intake.CodeTooLarge, true})
	case *seen == quote.MaxPhotos+1:
		f.wrong("photo", "too_many_photos", fmt.Sprintf("Send at most %d photos of one hinge. Two or three sharp ones are enough.", quote.MaxPhotos))
		f.uploads = nil
	case *seen <= quote.MaxPhotos:
		f.uploads = append(f.uploads, upload{p.FileName(), data})
	}
	return nil
}

// brokenOff says what to answer when a body ends too early or is too large.
func (f *form) brokenOff(err error, body io.Reader) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		io.CopyN(io.Discard, body, drainBytes)
		return err
	}
	return unreadable(err)
}

func unreadable(err error) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return err
	}
	return &fault{status: http.StatusBadRequest, code: "body_unreadable", detail: "The form broke off or is damaged (" + err.Error() + "). Send it again."}
}

func shortName(name string) string {
	if name == "" {
		return "A photo"
	}
	if r := []rune(name); len(r) > 40 {
		name = string(r[:40]) + "…"
	}
	return "“" + name + "”"
}

// admit checks every uploaded photo.
func (f *form) admit(doorman Doorman) []intake.Photo {
	var photos []intake.Photo
	for _, u := range f.uploads {
		p, err := doorman.Admit(u.name, u.data)
		if err != nil {
			told := asFault(err)
			text := told.detail
			if len(f.uploads) > 1 && u.name != "" && !strings.Contains(text, u.name) {
				text = shortName(u.name) + ": " + text
			}
			f.Errors = append(f.Errors, fieldError{"photo", text, told.code, told.status == http.StatusRequestEntityTooLarge})
			continue
		}
		photos = append(photos, p)
	}
	return photos
}

// submission makes the form into what the desk takes in. When f.Errors is not empty
// afterwards, it must not be used.
func (f *form) submission(source quote.Source, doorman Doorman) quote.Submission {
	photos := f.admit(doorman)
	if len(f.uploads) == 0 && f.At("photo").Text == "" {
		f.wrong("photo", "no_photo", "Add at least one photo of the hinge lying beside a library or gift card.")
	}
	if f.Email != "" {
		if a, err := mail.ParseAddress(f.Email); err != nil || a.Address != f.Email || strings.ContainsAny(f.Email, "\r\n<>") {
			f.wrong("email", "field", "“"+f.Email+"” is not an e-mail address. Write it like name@example.org.")
		}
	} else if source == quote.FromWeb {
		f.wrong("email", "field", "Write the e-mail address that the quote should go to.")
	}
	if strings.ContainsAny(f.Name, "\r\n") || len(f.Name) > 200 {
		f.wrong("name", "field", "Keep the name to one line of at most 200 letters.")
	}
	return quote.Submission{
		Source: source, Contact: quote.Contact{Name: f.Name, Email: f.Email},
		Text: f.Readings, Door: f.door(), Wishes: f.wishes(), Photos: photos, Once: f.Once,
	}
}

// door reads the door's fields; what cannot be read is an error beside its field.
func (f *form) door() catalog.Door {
	d := catalog.Door{
		Width:     f.length("door_width", f.DoorWidth, 6*measure.Inch, 10*measure.Foot),
		Height:    f.length("door_height", f.DoorHeight, 12*measure.Inch, 20*measure.Foot),
		Thickness: f.length("door_thickness", f.DoorThickness, measure.Inch/4, 6*measure.Inch),
		Inset:     f.length("door_inset", f.DoorInset, 0, 2*measure.Inch),
		Clearance: f.length("door_clearance", f.DoorClearance, 0, 6*measure.Inch),
		Count:     f.count("door_count", f.DoorCount, 500, "doors"),
		Core:      f.choice("door_core", f.DoorCore, "hollow", "solid"),
		Place:     f.choice("door_place", f.DoorPlace, "inside", "outside", "wet", "coastal"),
		Use:       f.choice("door_use", f.DoorUse, "low", "medium", "high"),
		Swing:     f.choice("door_swing", f.DoorSwing, "in", "out"),
		Material:  f.DoorMaterial,
		Closer:    f.yes("door_closer", f.DoorCloser),
		FireRated: f.yes("door_fire_rated", f.DoorFireRated),
	}
	if f.DoorWeight != "" {
		d.Weight = f.weight(f.DoorWeight)
	}
	return d
}

func (f *form) wishes() catalog.Wishes {
	w := catalog.Wishes{
		Finish: f.Finish, Text: f.Wanted, Count: f.count("wanted_count", f.HingeCount, quote.MaxHinges, "hinges"),
		Bearing: measure.Bearing(f.choice("wanted_bearing", f.Bearing, string(measure.BallBearing), string(measure.PlainBearing))),
	}
	// What the free text says counts where its own field was left empty.
	return w.Heard(readings.Parse(f.Wanted).Statements)
}

func (f *form) yes(field, text string) bool {
	switch strings.ToLower(text) {
	case "yes", "true", "on", "1":
		return true
	case "", "no", "false", "off", "0", "unknown":
	default:
		f.wrong(field, "field", fmt.Sprintf("%s is “%s”; choose yes or no, or leave it empty.", spoken(field), text))
	}
	return false
}

func (f *form) choice(field, text string, of ...string) string {
	text = strings.ToLower(text)
	if text != "" && text != "unknown" && !slices.Contains(of, text) {
		f.wrong(field, "field", fmt.Sprintf("%s is “%s”; choose %s, or leave it empty.", spoken(field), text, strings.Join(of, ", ")))
		return ""
	}
	if text == "unknown" {
		return ""
	}
	return text
}

func (f *form) count(field, text string, most int, of string) int {
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > most {
		f.wrong(field, "field", fmt.Sprintf("The number of %s is “%s”; write a whole number from 1 to %d, or leave it empty.", of, text, most))
		return 0
	}
	return n
}

func (f *form) weight(text string) float64 {
	kg, err := catalog.ParseWeight(text)
	if err != nil {
		f.wrong("door_weight", "field", "The door's weight is “"+text+"”; write it with its unit, such as 30 kg or 66 lb, or leave it empty.")
	}
	return kg
}

// length reads one length of the door; inches where no unit is typed.
func (f *form) length(field, text string, least, most measure.Length) measure.Length {
	if text == "" {
		return 0
	}
	fits := func(l measure.Length) bool { return l >= least && l <= most }
	l, ok := doorLength(field, text)
	if !ok || !fits(l) {
		if in, bare := doorLength(field, text+" in"); bare && fits(in) { // which the reader of loose words takes for millimetres
			return in
		}
	}
	switch {
	case !ok:
		f.wrong(field, "field", fmt.Sprintf("%s is “%s”; write one size such as 32 in, 6'8\", 1 3/8 or 813 mm, or leave it empty.", spoken(field), text))
		return 0
	case !fits(l):
		f.wrong(field, "field", fmt.Sprintf("%s is “%s”, read as %s. It must lie between %s and %s: write it with its unit, such as 32 in or 813 mm, or leave it empty.",
			spoken(field), text, catalog.Both(l), catalog.Both(least), catalog.Both(most)))
		return 0
	}
	return l
}

// spoken turns a field's name into the start of a sentence.
func spoken(field string) string {
	of := strings.TrimPrefix(field, "door_")
	if of != field {
		return "The door's " + strings.ReplaceAll(of, "_", " ")
	}
	return "The " + strings.ReplaceAll(strings.TrimPrefix(field, "wanted_"), "_", " ")
}

var doorQuantity = map[string]string{"door_width": "door width", "door_height": "door height", "door_thickness": "door thickness",
	"door_inset": "thickness", "door_clearance": "thickness"}

// doorLength reads one length by the same grammar as all readings.
func doorLength(field, text string) (measure.Length, bool) {
	for _, r := range readings.Parse(doorQuantity[field] + " " + text).Readings {
		if r.Value != nil {
			return *r.Value, true
		}
	}
	return 0, false
}
