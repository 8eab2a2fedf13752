// A surface of triangles with a tree of boxes over it, and the gap between two of them.
#pragma once
#include <cstddef>
#include <vector>

namespace handfast::proof {

struct Point {
    double x, y, z;
};
inline Point operator+(Point a, Point b) { return {a.x + b.x, a.y + b.y, a.z + b.z}; }
inline Point operator-(Point a, Point b) { return {a.x - b.x, a.y - b.y, a.z - b.z}; }
inline Point operator*(double s, Point a) { return {s * a.x, s * a.y, s * a.z}; }
inline double dot(Point a, Point b) { return a.x * b.x + a.y * b.y + a.z * b.z; }
inline Point cross(Point a, Point b) { return {a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x}; }

// Rows of the rotation, then the shift: p -> r p + t.
struct Placing {
    Point r[3], t;
    Point turned(Point p) const { return {dot(r[0], p), dot(r[1], p), dot(r[2], p)}; }
    Point operator()(Point p) const { return turned(p) + t; }
    Placing back() const {
        Placing out{{{r[0].x, r[1].x, r[2].x}, {r[0].y, r[1].y, r[2].y}, {r[0].z, r[1].z, r[2].z}}, {}};
        out.t = -1.0 * out.turned(t);
        return out;
    }
};

// normal, out: of length one, square to the face and, in its plane, to its edges ab, bc, ca, away from it; nothing where
// the triangle is as thin as a line.
struct Triangle {
    Point a, b, c, normal, out[3];
};

// A box along the axes of a frame, by middle and half edges.
struct Box {
    Point middle, half;
};

// first, count: the triangles of a leaf (count > 0); else a node's two halves are at first and first + 1.
struct Node {
    Box box;
    int first, count;
};

// ends: a corner of each of its pieces that hang together; solid: convex, with all that is in it.
struct Surface {
    std::vector<Triangle> triangles;
    std::vector<Node> nodes;
    std::vector<Point> ends;
    bool solid;
    Surface(const double *vertices, std::size_t known, const int *indices, std::size_t count, bool is_solid);
    bool holds(Point p) const;
};

// The least distance between two surfaces [m], 0 where they cut or one lies in a solid one, or `enough` where it is no less than that. b_in_a: where
// the second is as seen from the first.
double gap_up_to(double enough, const Surface &a, const Surface &b, const Placing &b_in_a);

// Whether they come nearer than that.
bool nearer(double than, const Surface &a, const Surface &b, const Placing &b_in_a);

// The distance of two triangles squared, 0 where they cut.
double apart_squared(const Triangle &, const Triangle &);

}  // namespace handfast::proof
