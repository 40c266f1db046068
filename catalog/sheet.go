package catalog

import (
	"archive/zip"
	"bytes"
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding/charmap"
)

// A Sheet is a table as it came out of a file, row by row, with what had to be guessed.
type Sheet struct {
	Rows    [][]string
	Number  []int // of each row, as a spreadsheet program shows it
	Notes   []string
	Suspect []Problem // cells that are no plain values: merged ones, formulas
}

// maxSheetBytes bounds a stock file. 100,000 rows of 30 columns take about 20 MB.
const maxSheetBytes = 256 << 20

// ReadSheet reads a stock list from CSV (UTF-8 with or without a byte order mark, UTF-16, or
// Windows-1252; commas, semicolons or tabs) or from the first sheet of an XLSX workbook.
// The format is told by the content, not by a name.
func ReadSheet(r io.Reader) (Sheet, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxSheetBytes+1))
	if err != nil {
		return Sheet{}, fmt.Errorf("stock list: %w", err)
	}
	switch {
	case len(data) > maxSheetBytes:
		return Sheet{}, fmt.Errorf("the stock list is larger than %d MB: split it", maxSheetBytes>>20)
	case len(bytes.TrimSpace(data)) == 0:
		return Sheet{}, errors.New("the stock list is empty")
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		return readXLSX(data)
	case bytes.HasPrefix(data, []byte("\xD0\xCF\x11\xE0")):
		return Sheet{}, errors.New("this is a workbook of the old binary kind (.xls): save it as .xlsx or CSV and import that")
	case bytes.HasPrefix(data, []byte("%PDF")):
		return Sheet{}, errors.New("this is a PDF, not a table: export the list as CSV or .xlsx")
	}
	return readCSV(data)
}

func readCSV(data []byte) (Sheet, error) {
	text, encoding, err := decodeText(data)
	if err != nil {
		return Sheet{}, err
	}
	comma := delimiter(text)
	s := Sheet{Notes: []string{fmt.Sprintf("Read as CSV, %s, columns parted by %s.", encoding, map[rune]string{
		',': "commas", ';': "semicolons", '\t': "tabs"}[comma])}}
	if twice := encodedTwice.FindString(text); twice != "" {
		s.Notes = append(s.Notes, fmt.Sprintf("Letters such as %q look as if the list was saved in one encoding and opened in another: compare the names with the original.", twice))
	}
	cr := csv.NewReader(strings.NewReader(text))
	cr.Comma = comma
	cr.LazyQuotes = true // 3 1/2" stands unquoted in many lists
	cr.FieldsPerRecord = -1
	within := 0 // line breaks inside quoted cells so far: a spreadsheet does not count them
	for {
		rec, err := cr.Read()
		if err == io.EOF {
			return s, nil
		}
		if err != nil {
			return Sheet{}, fmt.Errorf("the CSV breaks off: %w", err)
		}
		line, _ := cr.FieldPos(0)
		s.Rows = append(s.Rows, rec)
		s.Number = append(s.Number, line-within)
		for _, f := range rec {
			within += strings.Count(f, "\n")
		}
	}
}

// encodedTwice is a letter whose two bytes of UTF-8 were taken for two letters of Latin-1.
var encodedTwice = regexp.MustCompile(`[\x{C2}\x{C3}][\x{80}-\x{BF}]`)

// decodeText turns file bytes into UTF-8 and names the encoding it took them for.
func decodeText(data []byte) (text, encoding string, err error) {
	switch {
	case bytes.HasPrefix(data, []byte("\xEF\xBB\xBF")):
		data = data[3:]
		if !utf8.Valid(data) {
			return "", "", errors.New("the file says that it is UTF-8 and is not: save it again as CSV UTF-8")
		}
		return string(data), "UTF-8 with a byte order mark", nil
	case bytes.HasPrefix(data, []byte("\xFF\xFE")), bytes.HasPrefix(data, []byte("\xFE\xFF")):
		little := data[0] == 0xFF
		data = data[2:]
		if len(data)%2 != 0 {
			return "", "", errors.New("the UTF-16 file ends in the middle of a character: save it again")
		}
		u := make([]uint16, len(data)/2)
		for i := range u {
			a, b := uint16(data[2*i]), uint16(data[2*i+1])
			if little {
				a, b = b, a
			}
			u[i] = a<<8 | b
		}
		return string(utf16.Decode(u)), "UTF-16", nil
	case bytes.IndexByte(data, 0) >= 0:
		return "", "", errors.New("this is neither CSV nor .xlsx: export the list as one of them")
	case utf8.Valid(data):
		return string(data), "UTF-8", nil
	}
	out, err := charmap.Windows1252.NewDecoder().Bytes(data)
	if err != nil {
		return "", "", fmt.Errorf("the file's letters cannot be read: save it again as CSV UTF-8: %w", err)
	}
	return string(out), "Windows-1252 (a guess: it is not UTF-8)", nil
}

// delimiter is the separator that occurs most often in the first lines, outside quotes.
func delimiter(text string) rune {
	counts := map[rune]int{}
	quoted, lines := false, 0
	for _, r := range text {
		switch {
		case r == '"':
			quoted = !quoted
		case r == '\n':
			quoted = false
			if lines++; lines == 5 {
				goto done
			}
		case !quoted && (r == ',' || r == ';' || r == '\t'):
			counts[r]++
		}
	}
done:
	best := ','
	for _, r := range ";\t" {
		if counts[r] > counts[best] {
			best = r
		}
	}
	return best
}

func readXLSX(data []byte) (Sheet, error) {
	// The limits keep a small file that unpacks without end from filling the memory.
	f, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{UnzipSizeLimit: 1 << 30, UnzipXMLSizeLimit: 512 << 20})
	if err != nil {
		return Sheet{}, fmt.Errorf("this workbook cannot be read (damaged, or locked with a password?): %w", err)
	}
	defer f.Close()
	names := f.GetSheetList()
	if len(names) == 0 {
		return Sheet{}, errors.New("the workbook has no sheet")
	}
	name := names[0]
	s := Sheet{Notes: []string{fmt.Sprintf("Read as .xlsx, sheet %q.", name)}}
	if len(names) > 1 {
		s.Notes = append(s.Notes, fmt.Sprintf("%d more sheets were not read.", len(names)-1))
	}
	// Taking the XML apart is most of the time: what is stored and what is shown at once.
	var raw, shown [][]string
	var rawErr, shownErr error
	var both sync.WaitGroup
	both.Go(func() { raw, rawErr = f.GetRows(name, excelize.Options{RawCellValue: true}) })
	both.Go(func() { shown, shownErr = f.GetRows(name) })
	both.Wait()
	if err := cmp.Or(rawErr, shownErr); err != nil {
		return Sheet{}, fmt.Errorf("sheet %q: %w", name, err)
	}
	for r := range raw {
		row := make([]string, len(raw[r]))
		for c := range raw[r] {
			row[c] = raw[r][c]
			if r < len(shown) && c < len(shown[r]) {
				row[c] = plainCell(raw[r][c], shown[r][c])
			}
		}
		s.Rows = append(s.Rows, row)
		s.Number = append(s.Number, r+1)
	}
	merged, formulas := special(data)
	if merged {
		if err := s.addMerged(f, name); err != nil {
			return Sheet{}, err
		}
	}
	if formulas {
		s.addFormulas(f, name)
	}
	return s, nil
}

// addMerged notes the merged cells.
func (s *Sheet) addMerged(f *excelize.File, name string) error {
	merged, err := f.GetMergeCells(name)
	if err != nil {
		return fmt.Errorf("sheet %q: merged cells: %w", name, err)
	}
	for _, m := range merged {
		col, row, err := excelize.CellNameToCoordinates(m.GetStartAxis())
		if err != nil {
			continue
		}
		letter, _ := excelize.ColumnNumberToName(col)
		s.Suspect = append(s.Suspect, Problem{Row: row, Column: letter, Cell: m.GetCellValue(),
			Text: fmt.Sprintf("cells %s to %s are merged: unmerge them and fill in every one", m.GetStartAxis(), m.GetEndAxis())})
	}
	return nil
}

// addFormulas notes the cells with a formula.
func (s *Sheet) addFormulas(f *excelize.File, name string) {
	for r := range s.Rows {
		for c := range s.Rows[r] {
			at, _ := excelize.CoordinatesToCellName(c+1, r+1)
			if formula, err := f.GetCellFormula(name, at); err == nil && formula != "" {
				letter, _ := excelize.ColumnNumberToName(c + 1)
				s.Suspect = append(s.Suspect, Problem{Row: r + 1, Column: letter, Cell: "=" + formula, Warning: true,
					Text: "a formula: the value last shown was taken", Understood: s.Rows[r][c]})
			}
		}
	}
}

// plainCell prefers the stored value of a cell to the shown one, because formats round; a
// stored number that is shown as a date stays the date that the spreadsheet believes in.
func plainCell(raw, shown string) string {
	if raw == shown {
		return raw
	}
	serial, err := strconv.ParseFloat(raw, 64)
	if err != nil {
		return raw
	}
	if looksDated.MatchString(strings.TrimSpace(shown)) {
		if t, err := excelize.ExcelDateToTime(serial, false); err == nil {
			return t.Format("2006-01-02")
		}
		return shown
	}
	return strconv.FormatFloat(serial, 'f', -1, 64)
}

// special looks for merged cells and formulas anywhere in a workbook: asking for them loads the
// whole sheet again, which most have no need of.
func special(data []byte) (merged, formulas bool) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return true, true
	}
	for _, f := range z.File {
		if !strings.HasPrefix(strings.TrimPrefix(f.Name, "/"), "xl/worksheets/") {
			continue
		}
		r, err := f.Open()
		if err != nil {
			continue
		}
		b, _ := io.ReadAll(io.LimitReader(r, 512<<20))
		r.Close()
		merged = merged || bytes.Contains(b, []byte("mergeCell "))
		formulas = formulas || formulaTag.Match(b)
	}
	return merged, formulas
}

// formulaTag is a cell's formula, under any prefix of the name space.
var formulaTag = regexp.MustCompile(`<(?:\w+:)?f[ >]`)
