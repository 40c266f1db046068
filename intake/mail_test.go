package intake

import (
	"encoding/base64"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// eml writes a mail with the line ends of RFC 5322.
func eml(lines ...string) []byte { return []byte(strings.Join(lines, "\r\n") + "\r\n") }

func TestParseMail(t *testing.T) {
	picture := []byte("\xff\xd8\xff\xe0 a picture as far as an e-mail knows")
	coded := base64.StdEncoding.EncodeToString(picture)

	t.Run("a plain text", func(t *testing.T) {
		m, err := ParseMail(eml(
			"From: =?utf-8?q?J=C3=BCrgen?= <juergen@example.org>",
			"Subject: =?iso-8859-1?Q?T=FCrband?= 3 =?utf-8?B?wr0=?=",
			"Message-ID: <one@example.org>",
			"", "3 1/2 x 3 1/2", "", "Thanks"))
		require.NoError(t, err)
		require.Equal(t, Mail{MessageID: "one@example.org", Name: "Jürgen", Address: "juergen@example.org",
			Subject: "Türband 3 ½", Text: "3 1/2 x 3 1/2\n\nThanks"}, m)
	})

	t.Run("pictures attached, inline and nested", func(t *testing.T) {
		m, err := ParseMail(eml(
			"From: a@example.org", "Content-Type: multipart/mixed; boundary=A", "",
			"--A", "Content-Type: multipart/alternative; boundary=B", "",
			"--B", "Content-Type: text/plain", "", "plain words", "",
			"--B", "Content-Type: multipart/related; boundary=C", "",
			"--C", "Content-Type: text/html", "", "<p>html words <img src=cid:x></p>", "",
			"--C", "Content-Type: image/jpeg", "Content-ID: <x>", "Content-Disposition: inline", "Content-Transfer-Encoding: base64", "", coded, "",
			"--C--", "",
			"--B--", "",
			"--A", "Content-Type: application/octet-stream", "Content-Disposition: attachment; filename*=utf-8''t%C3%BCr.JPG", "Content-Transfer-Encoding: base64", "", coded, "",
			"--A", "Content-Type: message/rfc822", "", "From: b@example.org", "Content-Type: image/png; name=fwd.png", "Content-Transfer-Encoding: base64", "", coded, "",
			"--A", "Content-Type: application/pdf; name=plan.pdf", "Content-Transfer-Encoding: base64", "", coded, "",
			"--A--"))
		require.NoError(t, err)
		require.Equal(t, "plain words", m.Text)
		require.Equal(t, []Attachment{{"picture-1.jpeg", picture}, {"tür.JPG", picture}, {"fwd.png", picture}}, m.Pictures)
		require.Equal(t, []string{"plan.pdf: application/pdf is no picture"}, m.Left)
	})

	t.Run("only HTML", func(t *testing.T) {
		m, err := ParseMail(eml("From: a@example.org", "Content-Type: text/html; charset=iso-8859-1", "Content-Transfer-Encoding: quoted-printable", "",
			"<html><head><title>no</title><style>p{x}</style></head><body>", "<p>3=BD &times; 3=BD&nbsp;in</p><div>two<br>lines</div>",
			"<ul><li>one<li>two</ul><script>no()</script><table><tr><td>a</td><td>b</td></tr></table>",
			"<blockquote>old <blockquote>older</blockquote></blockquote></body></html>"))
		require.NoError(t, err)
		require.Equal(t, "3½ × 3½ in\ntwo\nlines\n\none\ntwo\n\na b\n> old\n>> older", m.Text)
	})

	t.Run("an alternative without plain text takes the HTML once", func(t *testing.T) {
		m, err := ParseMail(eml("From: a@example.org", "Content-Type: multipart/alternative; boundary=B", "",
			"--B", "Content-Type: text/plain", "", " ", "", "--B", "Content-Type: text/html", "", "<b>bold</b>", "", "--B--"))
		require.NoError(t, err)
		require.Equal(t, "bold", m.Text)
	})

	t.Run("flowed text", func(t *testing.T) {
		// The quoting and joining rules of RFC 3676 sections 4.1 to 4.5, on a text of our own.
		m, err := ParseMail(eml("From: a@example.org", "Content-Type: text/plain; format=flowed", "",
			"The leaf is 0.086 ", "thick, I think.", " >not quoted", ">> she ", ">> wrote", "> he wrote ", "-- ", "Me"))
		require.NoError(t, err)
		require.Equal(t, "The leaf is 0.086 thick, I think.\n>not quoted\n>> she wrote\n> he wrote \n-- \nMe", m.Text)
		m, err = ParseMail(eml("From: a@example.org", "Content-Type: text/plain; format=flowed; delsp=yes", "", "thick ", "ness"))
		require.NoError(t, err)
		require.Equal(t, "thickness", m.Text)
	})

	t.Run("odd charsets", func(t *testing.T) {
		for name, body := range map[string]string{
			"windows-1252": "3\xbd", "iso-8859-15": "3\xbd", "": "3\xbd", "utf-8": "3½", "no-such-charset": "3\xbd",
		} {
			want := "3½"
			if name == "iso-8859-15" {
				want = "3œ" // 0xBD there, ISO/IEC 8859-15
			}
			m, err := ParseMail(eml("From: a@example.org", "Content-Type: text/plain; charset="+name, "", body))
			require.NoError(t, err, name)
			require.Equal(t, want, m.Text, name)
		}
	})

	t.Run("what it answers, nearest first", func(t *testing.T) {
		m, err := ParseMail(eml("From: a@example.org", "Reply-To: Office <office@example.org>", "In-Reply-To: <c@x>", "References: <a@x> <b@x>", "\t<c@x>", "", "yes"))
		require.NoError(t, err)
		require.Equal(t, []string{"c@x", "b@x", "a@x"}, m.Answers)
		require.Equal(t, "office@example.org", m.Address)
		require.Equal(t, "Office", m.Name)
	})

	t.Run("a mail without Message-ID gets one from its content", func(t *testing.T) {
		a, err := ParseMail(eml("From: a@example.org", "", "one"))
		require.NoError(t, err)
		again, err := ParseMail(eml("From: a@example.org", "", "one"))
		require.NoError(t, err)
		b, err := ParseMail(eml("From: a@example.org", "", "two"))
		require.NoError(t, err)
		require.Equal(t, a.MessageID, again.MessageID)
		require.NotEqual(t, a.MessageID, b.MessageID)
	})

	t.Run("an address that is not well written is still found", func(t *testing.T) {
		for _, from := range []string{"Bob (at work <bob@example.org>", "bob@example.org, ,", `"Bob" bob@example.org`} {
			m, err := ParseMail(eml("From: "+from, "", "x"))
			require.NoError(t, err)
			require.Equal(t, "bob@example.org", m.Address, from)
		}
	})

	t.Run("a damaged mail gives what can be read", func(t *testing.T) {
		m, err := ParseMail(eml("From: a@example.org", "Content-Type: multipart/mixed; boundary=A", "",
			"--A", "", "some text", "", "--A", "Content-Type: image/jpeg", "Content-Transfer-Encoding: base64", "", coded[:8], "%%%"))
		require.NoError(t, err)
		require.Equal(t, "some text", m.Text)
		require.NotEmpty(t, m.Left)
	})

	t.Run("limits", func(t *testing.T) {
		var deep []string
		for i := range 12 {
			deep = append(deep, fmt.Sprintf("Content-Type: multipart/mixed; boundary=B%d", i), "", fmt.Sprintf("--B%d", i))
		}
		m, err := ParseMail(eml(append(append([]string{"From: a@example.org"}, deep...), "", "too deep")...))
		require.NoError(t, err)
		require.Empty(t, m.Text)
		require.Contains(t, m.Left, "parts nested more than 8 deep")

		wide := []string{"From: a@example.org", "Content-Type: multipart/mixed; boundary=A", ""}
		for range 500 {
			wide = append(wide, "--A", "Content-Type: image/png", "", "x", "")
		}
		m, err = ParseMail(eml(wide...))
		require.NoError(t, err)
		require.Len(t, m.Pictures, maxMailPictures)

		m, err = ParseMail(eml("From: a@example.org", "", strings.Repeat("3 1/2 ", 400_000)))
		require.NoError(t, err)
		require.LessOrEqual(t, len(m.Text), MaxMailText)
		require.Equal(t, []string{"text beyond the first megabyte"}, m.Left)

		_, err = ParseMail(make([]byte, MaxMailBytes+1))
		var invalid *InvalidError
		require.True(t, errors.As(err, &invalid))
		require.Equal(t, "too_big", invalid.Code)
	})

	t.Run("what is no mail", func(t *testing.T) {
		for _, raw := range []string{"", "\r\n\r\nbody", "\x00\x01\x02", "\xff\xd8\xff\xe0"} {
			_, err := ParseMail([]byte(raw))
			var invalid *InvalidError
			require.True(t, errors.As(err, &invalid), "%q: %v", raw, err)
			require.Equal(t, "not_a_mail", invalid.Code)
		}
	})
}

// TestAutomatic follows RFC 3834 (Auto-Submitted in section 5, the rest in section 2),
// RFC 2919 and 2369 for lists, and RFC 6522 for reports.
func TestAutomatic(t *testing.T) {
	for header, want := range map[string]bool{
		"X-Nothing: 1":                 false,
		"Auto-Submitted: no":           false,
		"Auto-Submitted: No (really)":  true, // a comment we do not take apart: silence is the safe side
		"Auto-Submitted: auto-replied": true,
		"Auto-Submitted: auto-generated; owner-email=\"x@example.org\"":           true,
		"Auto-Submitted: something-new":                                           true,
		"Precedence: bulk":                                                        true,
		"Precedence: first-class":                                                 false,
		"List-Id: <list.example.org>":                                             true,
		"List-Unsubscribe: <mailto:off@example.org>":                              true,
		"Return-Path: <>":                                                         true,
		"Return-Path: <a@example.org>":                                            false,
		"Content-Type: multipart/report; report-type=delivery-status; boundary=x": true,
	} {
		m, err := ParseMail(eml("From: a@example.org", header, "", "text"))
		require.NoError(t, err)
		require.Equal(t, want, m.Automatic != "", header)
	}
	for from, want := range map[string]bool{
		"MAILER-DAEMON@example.org": true, "owner-list@example.org": true, "list-request@example.org": true,
		"Postmaster <postmaster@example.org>": true, "owner@example.org": false, "request@example.org": false,
	} {
		m, err := ParseMail(eml("From: "+from, "", "text"))
		require.NoError(t, err)
		require.Equal(t, want, m.Automatic != "", from)
	}
}

func FuzzParseMail(f *testing.F) {
	f.Add(eml("From: a@example.org", "Content-Type: multipart/mixed; boundary=A", "", "--A", "", "text", "--A--"))
	f.Add(eml("From: a@example.org", "Content-Type: text/html", "", "<blockquote><p>x"))
	f.Add(eml("From: =?utf-8?q?x?=", "Content-Type: text/plain; format=flowed", "", "> a ", "> b"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		m, err := ParseMail(raw)
		if err == nil && m.MessageID == "" {
			t.Error("a mail without an identity")
		}
	})
}
