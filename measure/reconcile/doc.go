// Package reconcile weighs what photos showed against what people typed: one best set of lengths
// with its covariance, and for every reading that disagrees the likeliest slip and its odds.
package reconcile
