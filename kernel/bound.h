// The objects Python holds.
#pragma once
#include "arrays.h"
#include "kernel.h"

namespace handfast {

struct Arm {
    ArmTable table;
    Axes axes;
};

struct Cover {
    Arm arm;
    CoverData data;  // its table points into its vectors: never copied or moved
    Cover() = default;
    Cover(const Cover &) = delete;
};

struct World {
    std::vector<Obstacle> obstacles;
};

struct Question {  // a scene and the tables it points to
    WorldTable world;
    Scene scene;
};

void ask(Question &, const Cover &, const World &, double margin, double resolution);

}  // namespace handfast
