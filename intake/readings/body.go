package readings

import "strings"

// BodyText is the plain text of an e-mail without its signature and without the messages
// quoted in it. It knows the marks that are common in English, German and French mail: lines
// that begin with ">", "On … wrote:", "Am … schrieb …:", "Le … a écrit :", forwarded headers,
// the "-- " line (RFC 3676, section 4.3), "Sent from my phone", and a closing such as "Kind
// regards" with the few lines of a signature below it. Text without such marks comes back whole.
func BodyText(plain string) string {
	var b strings.Builder
	for _, s := range bodySpans(plain) {
		b.WriteString(plain[s[0]:s[1]])
	}
	return strings.TrimSpace(b.String())
}

// bodySpans returns the byte ranges of text that its writer wrote, in order.
func bodySpans(text string) [][2]int {
	var spans [][2]int
	forwarded := isForwarded(text)
	add := func(a, b int) {
		if n := len(spans); n > 0 && spans[n-1][1] == a {
			spans[n-1][1] = b
			return
		}
		spans = append(spans, [2]int{a, b})
	}
	for i := 0; i < len(text); {
		end := lineEnd(text, i)
		line := strings.TrimSpace(text[i:end])
		switch {
		case forwarded && strings.HasPrefix(line, ">"):
			add(i+strings.Index(text[i:end], ">")+1, end)
		case strings.HasPrefix(line, ">"):
		case isPhoneMark(line) && blank(text, spans): // some phones put it first
		case isSignatureMark(text[i:end]), isPhoneMark(line):
			return spans
		case isHistoryMark(line) || isWroteLine(text, i, end):
			// Where the answer stands below the quotation, it goes on after the ">" lines.
			if !quoteFollows(text, i) {
				return spans
			}
			for !strings.HasPrefix(strings.TrimSpace(text[i:end]), ">") && i < len(text) {
				i = end
				end = lineEnd(text, i)
			}
			continue
		case isForwardedHeader(line) && headerFollows(text, end):
			return spans
		case isClosing(line) && onlySignatureBelow(text, end):
			return spans
		default:
			add(i, end)
		}
		i = end
	}
	return spans
}

// blank reports that nothing stands in spans of text.
func blank(text string, spans [][2]int) bool {
	for _, s := range spans {
		if strings.TrimSpace(text[s[0]:s[1]]) != "" {
			return false
		}
	}
	return true
}

// isForwarded reports a mail whose first line says that another's is passed on: what it quotes is
// the message.
func isForwarded(text string) bool {
	first := strings.ToLower(strings.TrimSpace(text[:min(lineEnd(text, 0), 80)]))
	return strings.HasPrefix(first, "fwd:") || strings.HasPrefix(first, "fw:") || strings.HasPrefix(first, "wg:")
}

// lineEnd is the offset after the line that begins at i.
func lineEnd(text string, i int) int {
	if i >= len(text) {
		return len(text)
	}
	if n := strings.IndexByte(text[i:], '\n'); n >= 0 {
		return i + n + 1
	}
	return len(text)
}

func isSignatureMark(line string) bool {
	line = strings.TrimRight(line, "\r\n")
	return line == "-- " || line == "--" || line == "\u2013 " || line == "__"
}

func isPhoneMark(line string) bool {
	if len(line) > 80 {
		return false
	}
	l := strings.ToLower(line)
	for _, mark := range []string{"sent from my ", "sent from a ", "gesendet von mein", "von meinem ", "envoyé de mon ", "envoyé depuis mon ", "get outlook for", "diese nachricht wurde von mein"} {
		if strings.HasPrefix(l, mark) {
			return true
		}
	}
	return false
}

func isHistoryMark(line string) bool {
	if len(line) > 120 {
		return false
	}
	l := strings.ToLower(strings.Trim(line, "-_ *"))
	switch l {
	case "original message", "ursprüngliche nachricht", "originalnachricht", "message d'origine", "forwarded message", "weitergeleitete nachricht", "message transféré", "begin forwarded message:", "reply above this line", "anfang der weitergeleiteten nachricht:":
		return true
	}
	return false
}

// isWroteLine finds "On Tue, 3 Nov 2026 at 10:12, the shop <…> wrote:", which may run over
// two or three lines.
func isWroteLine(text string, i, end int) bool {
	line := strings.ToLower(strings.TrimSpace(text[i:end]))
	if len(line) > 200 {
		return false
	}
	begins := strings.HasPrefix(line, "on ") || strings.HasPrefix(line, "am ") || strings.HasPrefix(line, "le ") || strings.HasPrefix(line, "vom: ")
	if !begins {
		return false
	}
	for n := 0; n < 3; n++ {
		l := strings.TrimRight(line, ": \u00a0")
		if strings.HasSuffix(line, ":") && (strings.HasSuffix(l, "wrote") || strings.HasSuffix(l, "a écrit") || strings.Contains(l, " schrieb")) {
			return true
		}
		if end >= len(text) {
			return false
		}
		next := lineEnd(text, end)
		add := strings.ToLower(strings.TrimSpace(text[end:next]))
		if len(add) > 120 || add == "" {
			return false
		}
		line, end = line+" "+add, next
	}
	return false
}

// quoteFollows reports whether lines with ">" come within a few lines after offset i.
func quoteFollows(text string, i int) bool {
	for n := 0; n < 5 && i < len(text); n++ {
		end := lineEnd(text, i)
		if strings.HasPrefix(strings.TrimSpace(text[i:end]), ">") {
			return true
		}
		i = end
	}
	return false
}

var headerNames = []string{"from:", "von:", "de :", "de:", "sent:", "gesendet:", "envoyé :", "envoyé:", "date:", "datum:", "to:", "an:", "à :", "à:", "subject:", "betreff:", "objet :", "objet:", "cc:"}

func isForwardedHeader(line string) bool {
	l := strings.ToLower(strings.TrimLeft(line, "* "))
	for _, h := range headerNames[:4] {
		if strings.HasPrefix(l, h) {
			return true
		}
	}
	return false
}

// headerFollows reports whether the next lines are mail headers too.
func headerFollows(text string, i int) bool {
	found := 0
	for n := 0; n < 3 && i < len(text); n++ {
		end := lineEnd(text, i)
		l := strings.ToLower(strings.TrimLeft(strings.TrimSpace(text[i:end]), "* "))
		for _, h := range headerNames {
			if strings.HasPrefix(l, h) {
				found++
				break
			}
		}
		i = end
	}
	return found >= 2
}

func isClosing(line string) bool {
	if len(line) > 60 {
		return false
	}
	l := strings.ToLower(strings.Trim(line, " ,.!-"))
	for _, c := range []string{"regards", "best regards", "kind regards", "warm regards", "many thanks and regards", "yours", "yours sincerely", "yours faithfully", "sincerely", "best wishes", "with kind regards", "best", "kindest regards",
		"mit freundlichen grüßen", "mit freundlichen gruessen", "mit freundlichem gruß", "freundliche grüße", "viele grüße", "liebe grüße", "beste grüße", "mfg", "gruß", "grüße", "schöne grüße",
		"cordialement", "bien cordialement", "bien à vous", "salutations", "sincères salutations", "meilleures salutations", "amicalement"} {
		if l == c {
			return true
		}
	}
	return false
}

// onlySignatureBelow reports whether what follows a closing is no more than a signature: at
// most eight short lines, then a history mark or the end. A postscript is kept.
func onlySignatureBelow(text string, i int) bool {
	for n := 0; i < len(text); {
		end := lineEnd(text, i)
		line := strings.TrimSpace(text[i:end])
		l := strings.ToLower(line)
		if strings.HasPrefix(line, ">") || isHistoryMark(line) || isPhoneMark(line) || isSignatureMark(text[i:end]) || isWroteLine(text, i, end) || isForwardedHeader(line) && headerFollows(text, end) {
			return true
		}
		if strings.HasPrefix(l, "ps") || strings.HasPrefix(l, "p.s") {
			return false
		}
		if line != "" {
			if n++; n > 8 || len(line) > 90 {
				return false
			}
		}
		i = end
	}
	return true
}
