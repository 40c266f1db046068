// Package intake makes safe what a customer sent: photos admitted by an own short list,
// turned upright and stripped of location; typed text made into readings; e-mail taken apart.
package intake
