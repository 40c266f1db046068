// Package worker does what takes longer than a request: the measuring queue and the mail.
//
// The Relay moves intentions to measure from the database into the queue, the Measurer takes
// them out, the Postman sends the letters that are waiting, and the Mailroom takes in mail.
// The database is the truth: a queue that forgets everything is filled again, and every job
// may run twice. The package knows no SQL and no HTTP pages.
package worker
