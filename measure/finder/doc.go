// Package finder says where card and hinge lie in a reduced picture, so that the fits start in the right place. A small
// net, trained on drawn pictures (tools/finder), gives for each place how likely it is card, leaf, a corner, a hole.
package finder
