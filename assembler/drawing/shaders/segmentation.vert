#version 330 core
// One pass for everything the drawing needs: item number, normal towards the eye, depth.
layout(location = 0) in vec3 position;
#ifdef NORMAL_LOC
layout(location = NORMAL_LOC) in vec3 normal;
#endif
layout(location = INST_M_LOC) in mat4 inst_m;

uniform mat4 P;
uniform mat4 V;
uniform mat4 M;

out vec3 eye_normal;

void main()
{
    mat4 place = V * M * inst_m;
    gl_Position = P * place * vec4(position, 1.0);
#ifdef NORMAL_LOC
    eye_normal = mat3(place) * normal;
#endif
#ifndef NORMAL_LOC
    eye_normal = vec3(0.0, 0.0, 1.0);
#endif
}
