package intake

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/mail"
	"path"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/emersion/go-message"
	_ "github.com/emersion/go-message/charset" // so that bodies in old charsets are read
	"golang.org/x/text/encoding/charmap"
)

// Limits on one e-mail. What lies beyond them is left out and named in Mail.Left.
const (
	// MaxMailBytes is the largest e-mail that is read at all: six photos in base64.
	MaxMailBytes = 64 << 20

	// MaxMailText is the most text of one e-mail that is read, in bytes.
	MaxMailText = 1 << 20

	maxMailDepth    = 8 // multiparts within multiparts
	maxMailParts    = 200
	maxMailPictures = 20
)

// A Mail is an e-mail taken apart.
type Mail struct {
	MessageID string   // without angle brackets; made from the content where the mail has none
	Answers   []string // Message-IDs that it answers, the nearest first, without angle brackets
	Name      string   // of the sender
	Address   string   // where an answer goes: Reply-To, else From; "" where neither can be read
	Subject   string
	Text      string       // the body as plain text, signature and quoted history included
	Pictures  []Attachment // attached and inline, as sent
	Automatic string       // why it is taken for automatic mail, which is never answered; "" when a person wrote it
	Left      []string     // what could not be taken, and why, a line each
}

// An Attachment is a file that came with an e-mail.
type Attachment struct {
	Name string
	Data []byte
}

// ParseMail takes an e-mail apart (RFC 5322, MIME). What is damaged or too much is left out
// and named in Left; only text that is no e-mail at all is an *InvalidError.
func ParseMail(raw []byte) (Mail, error) {
	if len(raw) > MaxMailBytes {
		return Mail{}, &InvalidError{"mail", "too_big", fmt.Sprintf("The e-mail is larger than %d MB. Send fewer or smaller photos.", MaxMailBytes>>20)}
	}
	e, err := message.Read(bytes.NewReader(raw))
	if unreadable(e, err) || e.Header.Len() == 0 {
		return Mail{}, &InvalidError{"mail", "not_a_mail", "This is not an e-mail: it has no header that can be read."}
	}
	m := Mail{
		MessageID: firstMessageID(e.Header.Get("Message-Id")),
		Answers:   answers(e.Header),
		Subject:   oneLine(headerText(e.Header, "Subject")),
		Automatic: automatic(e.Header),
	}
	m.Name, m.Address = sender(e.Header)
	if m.MessageID == "" {
		sum := sha256.Sum256(raw)
		m.MessageID = hex.EncodeToString(sum[:16]) + "@no-message-id.invalid"
	}
	p := mailParser{mail: &m}
	m.Text, _ = p.part(e, 1)
	m.Text = strings.TrimSpace(m.Text)
	return m, nil
}

// unreadable reports whether a part can't be read at all. What is only in a charset or encoding
// that is not known is read as it stands.
func unreadable(e *message.Entity, err error) bool {
	return e == nil || err != nil && !message.IsUnknownCharset(err) && !message.IsUnknownEncoding(err)
}

type mailParser struct {
	mail  *Mail
	parts int
	text  int // bytes of text so far
}

func (p *mailParser) leave(format string, a ...any) {
	line := fmt.Sprintf(format, a...)
	if len(p.mail.Left) < 50 && !slices.Contains(p.mail.Left, line) { // enough to see what kind of mail it is
		p.mail.Left = append(p.mail.Left, line)
	}
}

// part reads one part and all within it, and returns its text and whether that was typed as
// plain text.
func (p *mailParser) part(e *message.Entity, depth int) (text string, plain bool) {
	p.parts++
	if p.parts > maxMailParts {
		return "", false
	}
	kind, params, err := e.Header.ContentType()
	if err != nil || kind == "" {
		// RFC 2045 section 5.2: text is assumed where the header says nothing sensible.
		kind = strings.ToLower(strings.TrimSpace(strings.Split(e.Header.Get("Content-Type"), ";")[0]))
		if !strings.Contains(kind, "/") {
			kind = "text/plain"
		}
	}
	if strings.HasPrefix(kind, "multipart/") {
		if depth > maxMailDepth {
			p.leave("parts nested more than %d deep", maxMailDepth)
			return "", false
		}
		return p.multipart(e, kind, depth)
	}
	name := fileName(e.Header, params)
	disposition, _, _ := e.Header.ContentDisposition()
	switch {
	case kind == "message/rfc822":
		if depth > maxMailDepth {
			p.leave("mails nested more than %d deep", maxMailDepth)
			return "", false
		}
		inner, err := message.Read(e.Body)
		if unreadable(inner, err) {
			p.leave("a forwarded mail that cannot be read")
			return "", false
		}
		p.part(inner, depth+1) // its pictures count, its text is somebody else's
		return "", false
	case strings.HasPrefix(kind, "image/"), isPictureName(name):
		p.picture(e, kind, name)
		return "", false
	case disposition == "attachment", !strings.HasPrefix(kind, "text/"):
		if kind != "application/pgp-signature" && kind != "application/pkcs7-signature" && kind != "application/x-pkcs7-signature" {
			p.leave("%s: %s is no picture", or(name, "an attachment"), oneLine(kind))
		}
		return "", false
	}
	return p.readText(e, kind, params)
}

func (p *mailParser) multipart(e *message.Entity, kind string, depth int) (text string, plain bool) {
	r := e.MultipartReader()
	if r == nil {
		p.leave("a part of kind %s that cannot be read", oneLine(kind))
		return "", false
	}
	var texts []string
	for {
		child, err := r.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if unreadable(child, err) {
			p.leave("what came after a damaged place")
			break
		}
		if p.parts >= maxMailParts {
			p.leave("everything after the first %d parts", maxMailParts)
			break
		}
		t, isPlain := p.part(child, depth+1)
		if strings.TrimSpace(t) == "" {
			continue
		}
		if kind == "multipart/alternative" {
			// The same text several times: as plain text where there is one, else the last.
			if isPlain && !plain || isPlain == plain {
				texts = []string{t}
			}
			plain = plain || isPlain
			continue
		}
		texts = append(texts, t)
		plain = plain || isPlain
	}
	return strings.Join(texts, "\n\n"), plain
}

func (p *mailParser) picture(e *message.Entity, kind, name string) {
	if len(p.mail.Pictures) >= maxMailPictures {
		p.leave("%s: more than %d pictures", or(name, "a picture"), maxMailPictures)
		return
	}
	data, err := io.ReadAll(e.Body)
	if err != nil {
		p.leave("%s: damaged on its way", or(name, "a picture"))
	}
	if len(data) == 0 {
		return
	}
	if name == "" {
		name = fmt.Sprintf("picture-%d.%s", len(p.mail.Pictures)+1, strings.TrimPrefix(kind, "image/"))
	}
	p.mail.Pictures = append(p.mail.Pictures, Attachment{name, data})
}

func (p *mailParser) readText(e *message.Entity, kind string, params map[string]string) (text string, plain bool) {
	data, err := io.ReadAll(io.LimitReader(e.Body, int64(MaxMailText-p.text)))
	if err != nil && len(data) == 0 {
		p.leave("a text that cannot be read")
		return "", false
	}
	p.text += len(data)
	if p.text >= MaxMailText {
		p.leave("text beyond the first megabyte")
	}
	text = asUTF8(data)
	text = strings.ReplaceAll(text, "\r\n", "\n")
	if kind == "text/html" {
		return htmlText(text), false
	}
	if strings.EqualFold(params["format"], "flowed") {
		text = unflow(text, strings.EqualFold(params["delsp"], "yes"))
	}
	return text, true
}

// asUTF8 reads text whose charset was not told or not known: as UTF-8 where it is, else as
// windows-1252, which has a letter for nearly every byte (common practice, no source).
func asUTF8(data []byte) string {
	if utf8.Valid(data) {
		return string(data)
	}
	out, err := charmap.Windows1252.NewDecoder().Bytes(data)
	if err != nil {
		return strings.ToValidUTF8(string(data), "\uFFFD")
	}
	return string(out)
}

// unflow joins the soft line breaks of format=flowed text (RFC 3676 sections 4 and 5).
// Quote marks stay, so that quoted history can be told later.
func unflow(text string, delSp bool) string {
	var out strings.Builder
	flowing, depth := false, 0
	for line := range strings.SplitSeq(text, "\n") {
		body := strings.TrimLeft(line, ">")
		d := len(line) - len(body)
		body = strings.TrimPrefix(body, " ") // space-stuffed, section 4.4
		if out.Len() > 0 && (!flowing || d != depth || body == "-- ") {
			out.WriteByte('\n')
			flowing = false
		}
		if !flowing && d > 0 {
			out.WriteString(strings.Repeat(">", d) + " ")
		}
		flowing = strings.HasSuffix(body, " ") && body != "-- "
		if flowing && delSp {
			body = body[:len(body)-1]
		}
		depth = d
		out.WriteString(body)
	}
	return out.String()
}

// automatic says why a mail is an automatic one (RFC 3834 sections 2 and 5), or "".
func automatic(h message.Header) string {
	word := func(key string) string {
		return strings.ToLower(strings.TrimSpace(strings.Split(h.Get(key), ";")[0]))
	}
	if a := word("Auto-Submitted"); a != "" && a != "no" {
		return "Auto-Submitted: " + oneLine(a)
	}
	switch p := word("Precedence"); p {
	case "bulk", "junk", "list", "auto_reply":
		return "Precedence: " + p
	}
	for _, key := range []string{"List-Id", "List-Unsubscribe", "List-Post"} { // RFC 2919, RFC 2369
		if h.Has(key) {
			return key
		}
	}
	if h.Has("Return-Path") && strings.Trim(h.Get("Return-Path"), "<> \t") == "" {
		return "an empty Return-Path"
	}
	if kind, _, err := h.ContentType(); err == nil && kind == "multipart/report" { // RFC 6522
		return "a delivery report"
	}
	_, from := sender(h)
	local, _, _ := strings.Cut(strings.ToLower(from), "@")
	if local == "mailer-daemon" || local == "postmaster" || strings.HasPrefix(local, "owner-") || strings.HasSuffix(local, "-request") {
		return "from " + oneLine(from)
	}
	return ""
}

// sender returns who wrote a mail and where an answer goes.
func sender(h message.Header) (name, address string) {
	for _, key := range []string{"Reply-To", "From", "Sender"} {
		text := headerText(h, key)
		if text == "" {
			continue
		}
		if list, err := addressParser.ParseList(h.Get(key)); err == nil && len(list) > 0 {
			if name == "" {
				name = oneLine(list[0].Name)
			}
			if address == "" {
				address = list[0].Address
			}
		} else if found := looseAddress().FindString(text); found != "" && address == "" {
			address = found
		}
		if name != "" && address != "" {
			break
		}
	}
	return name, address
}

var addressParser = mail.AddressParser{WordDecoder: &mime.WordDecoder{CharsetReader: message.CharsetReader}}

// Counted repetitions take a millisecond to compile, which whoever only measures would wait for too.
var (
	looseAddress = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`[A-Za-z0-9._%+\-]{1,64}@[A-Za-z0-9.\-]{1,200}\.[A-Za-z]{2,24}`)
	})
	messageID = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`<([^<>\s]{1,500})>`) })
)

func firstMessageID(value string) string {
	if m := messageID().FindStringSubmatch(value); m != nil {
		return m[1]
	}
	if v := strings.Trim(value, "<> \t"); len(v) <= 500 && v != "" && !strings.ContainsAny(v, " \t<>") {
		return v
	}
	return ""
}

// answers lists what a mail answers: In-Reply-To, then References from its end.
func answers(h message.Header) []string {
	var list []string
	seen := map[string]bool{}
	add := func(id string) {
		if !seen[id] && len(list) < 50 {
			seen[id] = true
			list = append(list, id)
		}
	}
	for _, m := range messageID().FindAllStringSubmatch(h.Get("In-Reply-To"), -1) {
		add(m[1])
	}
	refs := messageID().FindAllStringSubmatch(h.Get("References"), -1)
	for i := len(refs) - 1; i >= 0; i-- {
		add(refs[i][1])
	}
	return list
}

// headerText is a decoded header field; what cannot be decoded comes as it is.
func headerText(h message.Header, key string) string {
	if t, err := h.Text(key); err == nil {
		return strings.ToValidUTF8(t, "\uFFFD")
	}
	return asUTF8([]byte(h.Get(key)))
}

func fileName(h message.Header, params map[string]string) string {
	_, disposition, _ := h.ContentDisposition()
	name := or(disposition["filename"], params["name"])
	if decoded, err := addressParser.WordDecoder.DecodeHeader(name); err == nil {
		name = decoded
	}
	return oneLine(path.Base(strings.ReplaceAll(or(name, "."), `\`, "/")))
}

// isPictureName tells pictures that are sent without their kind.
func isPictureName(name string) bool {
	switch strings.ToLower(path.Ext(name)) {
	case ".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif":
		return true
	}
	return false
}

// oneLine makes a text from outside fit for a single line; "." (a missing name) becomes "".
func oneLine(s string) string {
	s = strings.Join(strings.Fields(strings.ToValidUTF8(s, "\uFFFD")), " ")
	if s == "." {
		return ""
	}
	if len(s) > 300 {
		s = strings.ToValidUTF8(s[:300], "")
	}
	return s
}

func or(s, instead string) string {
	if s != "" {
		return s
	}
	return instead
}
