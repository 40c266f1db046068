package intake

import (
	"strings"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// htmlText is what a person reads of an HTML body. Quoted history keeps its marks: each line
// of a blockquote begins with ">".
func htmlText(source string) string {
	z := html.NewTokenizer(strings.NewReader(source))
	var w htmlWriter
	skip := 0 // inside elements that nobody sees
	for {
		switch kind := z.Next(); kind {
		case html.ErrorToken: // the end, for a tokenizer over a string
			w.line()
			return strings.TrimSpace(w.out.String())
		case html.TextToken:
			if skip == 0 {
				w.text(string(z.Text()))
			}
		case html.StartTagToken, html.EndTagToken, html.SelfClosingTagToken:
			name, _ := z.TagName()
			tag := atom.Lookup(name)
			opens := kind == html.StartTagToken
			switch tag {
			case atom.Script, atom.Style, atom.Head, atom.Title, atom.Noscript, atom.Template:
				if opens {
					skip++
				} else if kind == html.EndTagToken && skip > 0 {
					skip--
				}
			case atom.Body: // a head that is never closed ends here
				skip = 0
			case atom.Blockquote:
				w.line()
				if opens {
					w.depth++
				} else if kind == html.EndTagToken && w.depth > 0 {
					w.depth--
				}
			case atom.Br:
				w.breakLine()
			case atom.P, atom.H1, atom.H2, atom.H3, atom.H4, atom.H5, atom.H6, atom.Table, atom.Ul, atom.Ol, atom.Pre, atom.Hr:
				w.line()
				if opens {
					w.gap = true
				}
			case atom.Div, atom.Tr, atom.Li, atom.Dt, atom.Dd, atom.Section, atom.Article, atom.Address, atom.Header, atom.Footer:
				w.line()
			case atom.Td, atom.Th:
				w.space = true
			}
		}
	}
}

// htmlWriter collapses white space as a browser does.
type htmlWriter struct {
	out   strings.Builder
	now   strings.Builder // the line being written
	space bool            // a space is due before the next word
	gap   bool            // an empty line is due before the next one
	depth int             // of blockquotes
}

func (w *htmlWriter) text(s string) {
	for _, r := range s {
		switch r {
		case ' ', '\t', '\n', '\r', '\f', '\u00a0':
			w.space = true
		case '\u200b', '\u200c', '\u200d', '\ufeff', '\u00ad': // zero width
		default:
			if w.space && w.now.Len() > 0 {
				w.now.WriteByte(' ')
			}
			w.space = false
			w.now.WriteRune(r)
		}
	}
}

// line ends the line being written, if there is one.
func (w *htmlWriter) line() {
	if w.now.Len() > 0 {
		w.breakLine()
	}
	w.space = false
}

func (w *htmlWriter) breakLine() {
	mark := ""
	if w.depth > 0 {
		mark = strings.Repeat(">", min(w.depth, 50)) + " "
	}
	if w.gap && w.out.Len() > 0 {
		w.out.WriteString(strings.TrimSpace(mark) + "\n")
	}
	w.gap = false
	w.out.WriteString(mark + w.now.String() + "\n")
	w.now.Reset()
	w.space = false
}
