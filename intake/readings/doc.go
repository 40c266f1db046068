// Package readings makes typed text into readings: "3 1/2 x 3 1/2, 0.086 thick", a form's field
// or a whole e-mail. It reads no file, asks no clock, and never fails: what it cannot read it
// gives back as unread.
package readings
