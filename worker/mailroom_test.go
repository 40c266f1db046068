package worker

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leafgauge/intake"
	"leafgauge/quote"

	"github.com/stretchr/testify/require"
)

// fakeInbox is a desk that remembers what came in.
type fakeInbox struct {
	received []quote.Submission
	added    []string // "id: text"
	notes    []string
	messages map[string]quote.ID
	refuse   error
	down     error
}

func (f *fakeInbox) Receive(_ context.Context, s quote.Submission) (quote.Receipt, error) {
	if err := errors.Join(f.down, f.refuse); err != nil {
		return quote.Receipt{}, err
	}
	for i, r := range f.received {
		if r.Once == s.Once {
			return quote.Receipt{Inquiry: quote.Inquiry{ID: quote.ID(i + 1)}, Again: true}, nil
		}
	}
	f.received = append(f.received, s)
	id := quote.ID(len(f.received))
	f.messages[s.MessageID] = id
	return quote.Receipt{Inquiry: quote.Inquiry{ID: id}}, nil
}

func (f *fakeInbox) Add(_ context.Context, id quote.ID, by quote.Role, who string, photos []intake.Photo, text, messageID string) (quote.Inquiry, error) {
	if _, known := f.messages[messageID]; !known {
		f.added = append(f.added, text)
		f.messages[messageID] = id
	}
	return quote.Inquiry{ID: id}, f.down
}

func (f *fakeInbox) ByMessage(_ context.Context, ids []string) (quote.Inquiry, error) {
	if f.down != nil {
		return quote.Inquiry{}, f.down
	}
	for i := len(ids) - 1; i >= 0; i-- {
		if id, ok := f.messages[ids[i]]; ok {
			return quote.Inquiry{ID: id}, nil
		}
	}
	return quote.Inquiry{}, quote.ErrNotFound
}

func (f *fakeInbox) Dossier(_ context.Context, id quote.ID) (quote.Dossier, error) {
	if id < 1 || int(id) > len(f.received) {
		return quote.Dossier{}, quote.ErrNotFound
	}
	return quote.Dossier{Inquiry: quote.Inquiry{ID: id, Contact: f.received[id-1].Contact}}, nil
}

func (f *fakeInbox) Note(_ context.Context, id quote.ID, who, text string) error {
	f.notes = append(f.notes, text)
	return f.down
}

// mailbench is a mailroom over a folder of its own.
type mailbench struct {
	t    *testing.T
	dir  string
	desk *fakeInbox
	room *Mailroom
}

func newMailbench(t *testing.T) mailbench {
	dir := t.TempDir()
	folder, err := OpenInFolder(dir, func() time.Time { return time.Now().Add(time.Minute) })
	require.NoError(t, err)
	desk := &fakeInbox{messages: map[string]quote.ID{}}
	room := NewMailroom(desk, folder, fakeDoorman{}, "counter@shop.example", quiet)
	return mailbench{t, dir, desk, room}
}

// fakeDoorman takes what begins with "bad" for no picture and what begins with "logo" for a small one.
type fakeDoorman struct{}

func (fakeDoorman) Admit(name string, data []byte) (intake.Photo, error) {
	if strings.HasPrefix(string(data), "bad") {
		return intake.Photo{}, &intake.InvalidError{Field: "photo", Code: "not_an_image", Text: "This is not a picture."}
	}
	size := 4000
	if strings.HasPrefix(string(data), "logo") {
		size = 200
	}
	return intake.Photo{SHA256: string(data), Width: size, Height: size / 2, FileName: name}, nil
}

func (b mailbench) put(name string, lines ...string) {
	b.t.Helper()
	require.NoError(b.t, os.WriteFile(filepath.Join(b.dir, name), []byte(strings.Join(lines, "\r\n")), 0o600))
}

func (b mailbench) names(sub string) []string {
	entries, err := os.ReadDir(filepath.Join(b.dir, sub))
	require.NoError(b.t, err)
	var names []string
	for _, e := range entries {
		if !e.IsDir() {
			names = append(names, e.Name())
		}
	}
	return names
}

func TestMailroom(t *testing.T) {
	question := []string{"From: Ann <ann@example.org>", "Subject: hinge", "Message-ID: <q1@example.org>", "MIME-Version: 1.0",
		"Content-Type: multipart/mixed; boundary=A", "",
		"--A", "", "3 1/2 x 3 1/2", "-- ", "Ann, 12 Mill Lane", "",
		"--A", "Content-Type: image/jpeg; name=hinge.jpg", "", "photo one",
		"--A", "Content-Type: image/png; name=logo.png", "", "logo",
		"--A", "Content-Type: image/jpeg; name=broken.jpg", "", "bad",
		"--A--"}

	t.Run("a mail becomes an inquiry, once", func(t *testing.T) {
		b := newMailbench(t)
		b.put("1.eml", question...)
		b.put("copy.eml", question...)
		require.NoError(t, b.room.pass(t.Context()))
		require.Len(t, b.desk.received, 1)
		s := b.desk.received[0]
		require.Equal(t, quote.FromMail, s.Source)
		require.Equal(t, quote.Contact{Name: "Ann", Email: "ann@example.org"}, s.Contact)
		require.Equal(t, "3 1/2 x 3 1/2", s.Text)
		require.Equal(t, "q1@example.org", s.MessageID)
		require.False(t, s.Automatic)
		require.Len(t, s.Photos, 1)
		require.Equal(t, "hinge.jpg", s.Photos[0].FileName)
		require.Len(t, b.desk.notes, 1)
		require.Contains(t, b.desk.notes[0], "logo.png: only 200 × 100 pixels")
		require.Contains(t, b.desk.notes[0], "broken.jpg: This is not a picture.")
		require.Empty(t, b.names(""))
		require.Equal(t, []string{"1.eml", "copy.eml"}, b.names("done"))
	})

	t.Run("the same picture twice reaches the desk, which says so", func(t *testing.T) {
		b := newMailbench(t)
		b.put("1.eml", append(question[:len(question)-1:len(question)-1], "--A", "Content-Type: image/jpeg; name=again.jpg", "", "photo one", "--A--")...)
		require.NoError(t, b.room.pass(t.Context()))
		require.Len(t, b.desk.received[0].Photos, 2)
	})

	t.Run("an answer joins its inquiry", func(t *testing.T) {
		for name, head := range map[string]string{
			"by In-Reply-To":      "In-Reply-To: <q1@example.org>",
			"by References":       "References: <q1@example.org> <unknown@example.org>",
			"by the subject mark": "Subject: Re: One question about your hinge (inquiry 1)",
		} {
			b := newMailbench(t)
			b.put("1.eml", question...)
			require.NoError(t, b.room.pass(t.Context()), name)
			b.put("2.eml", "From: ANN@example.org", "Message-ID: <q2@example.org>", head, "", "0.086 thick")
			require.NoError(t, b.room.pass(t.Context()), name)
			require.Equal(t, []string{"0.086 thick"}, b.desk.added, name)
			require.Len(t, b.desk.received, 1, name)
		}
	})

	t.Run("a stranger who guesses a subject mark starts an inquiry of his own", func(t *testing.T) {
		b := newMailbench(t)
		b.put("1.eml", question...)
		require.NoError(t, b.room.pass(t.Context()))
		b.put("2.eml", "From: eve@example.org", "Subject: (inquiry 1)", "", "9 in")
		b.put("3.eml", "From: eve@example.org", "Subject: (inquiry 99)", "", "8 in")
		require.NoError(t, b.room.pass(t.Context()))
		require.Empty(t, b.desk.added)
		require.Len(t, b.desk.received, 3)
	})

	t.Run("automatic mail is taken in and marked", func(t *testing.T) {
		b := newMailbench(t)
		b.put("1.eml", "From: ann@example.org", "Auto-Submitted: auto-generated", "", "text")
		b.put("2.eml", "From: counter@shop.example", "", "our own")
		require.NoError(t, b.room.pass(t.Context()))
		require.Len(t, b.desk.received, 2)
		require.True(t, b.desk.received[0].Automatic)
		require.True(t, b.desk.received[1].Automatic)
	})

	t.Run("an automatic answer is noted and measures nothing again", func(t *testing.T) {
		b := newMailbench(t)
		b.put("1.eml", question...)
		require.NoError(t, b.room.pass(t.Context()))
		b.put("2.eml", "From: ann@example.org", "Auto-Submitted: auto-replied", "In-Reply-To: <q1@example.org>", "", "I am away")
		require.NoError(t, b.room.pass(t.Context()))
		require.Empty(t, b.desk.added)
		require.Contains(t, b.desk.notes[len(b.desk.notes)-1], "I am away")
	})

	t.Run("what is no mail is put aside with the reason", func(t *testing.T) {
		b := newMailbench(t)
		b.put("x.eml", "\x00\x01")
		require.NoError(t, b.room.pass(t.Context()))
		require.Equal(t, []string{"x.eml", "x.eml.reason.txt"}, b.names("bad"))
		reason, err := os.ReadFile(filepath.Join(b.dir, "bad", "x.eml.reason.txt"))
		require.NoError(t, err)
		require.Contains(t, string(reason), "not an e-mail")
	})

	t.Run("what the desk refuses is put aside", func(t *testing.T) {
		b := newMailbench(t)
		b.desk.refuse = &intake.InvalidError{Text: "No."}
		b.put("1.eml", question...)
		require.NoError(t, b.room.pass(t.Context()))
		require.Equal(t, []string{"1.eml", "1.eml.reason.txt"}, b.names("bad"))
	})

	t.Run("an outage leaves the mail where it is", func(t *testing.T) {
		b := newMailbench(t)
		b.desk.down = errors.New("connection refused")
		b.put("1.eml", question...)
		require.ErrorContains(t, b.room.pass(t.Context()), "connection refused")
		require.Equal(t, []string{"1.eml"}, b.names(""))
		b.desk.down = nil
		require.NoError(t, b.room.pass(t.Context()))
		require.Equal(t, []string{"1.eml"}, b.names("done"))
	})

	t.Run("a mail without text is known by its subject", func(t *testing.T) {
		b := newMailbench(t)
		b.put("1.eml", "From: ann@example.org", "Subject: hinge 3 1/2 in", "", "")
		require.NoError(t, b.room.pass(t.Context()))
		require.Equal(t, "hinge 3 1/2 in", b.desk.received[0].Text)
	})
}

func TestInFolder(t *testing.T) {
	dir := t.TempDir()
	now := time.Now()
	f, err := OpenInFolder(dir, func() time.Time { return now })
	require.NoError(t, err)
	write := func(name string, age time.Duration) {
		file := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(file, []byte(name), 0o600))
		require.NoError(t, os.Chtimes(file, now.Add(-age), now.Add(-age)))
	}
	write("new.eml", settle/2) // may still be written to
	write("b.eml", 2*settle)
	write("a.EML", 3*settle)
	write("notes.txt", time.Hour)
	write(".hidden.eml", time.Hour)
	write("future.eml", -time.Hour)
	names, err := f.Waiting()
	require.NoError(t, err)
	require.Equal(t, []string{"a.EML", "b.eml", "future.eml"}, names)

	require.NoError(t, f.Done("b.eml"))
	write("b.eml", time.Hour)
	require.NoError(t, f.Done("b.eml"))
	require.FileExists(t, filepath.Join(dir, "done", "b.eml"))
	require.FileExists(t, filepath.Join(dir, "done", "b-2.eml"))

	_, err = OpenInFolder(filepath.Join(dir, "a.EML"), time.Now)
	require.ErrorContains(t, err, "make it writable")
}
