package session

import (
	"reflect"
	"strconv"
	"strings"
	"sync"
	"time"
	"unsafe"

	"tared/session/text"
)

// Most views come of a line of a scale, and of these a tenth has changed. So a watcher that
// has a view is told what is not as in that one. With each line this is done between port and
// page, so the type of a view is looked at once, and its bytes after that.

// encoder writes a view, or a part of it, as JSON and in words.
type encoder struct {
	l     *text.Language
	b     []byte
	place []byte // of what is compared, as "now.show.digits"
}

// whole writes all of a view in a language.
func whole(v *View, l *text.Language) []byte {
	e := encoder{l: l, b: make([]byte, 0, 4<<10)}
	e.write(viewShape(), unsafe.Pointer(v))
	return e.b
}

const nothingSet = `{"set":{}}`

// changes writes what is not as it was: {"set":{"now.in":"42.9",...}}, where places in a
// list are numbers.
func changes(was, is *View, l *text.Language) []byte {
	e := encoder{l: l, b: append(make([]byte, 0, 512), nothingSet[:len(nothingSet)-2]...), place: make([]byte, 0, 64)}
	e.compare(viewShape(), unsafe.Pointer(was), unsafe.Pointer(is))
	return append(e.b, "}}"...)
}

// shape is a type within a view.
type shape struct {
	kind  shapeKind
	parts []viewPart // of a struct
	of    *shape     // what a list has, or a pointer points to
	size  uintptr    // of that in a list
}

type shapeKind uint8

const (
	isStruct shapeKind = iota
	isPointer
	isList
	isString
	isDigits // a decimal, to be written as the reader does
	isTerm   // English, to be told as the reader does
	isBool
	isInt
	isUint
	isTime
	isMessage // with its code
	isSaid    // of a sentence only the words: the page looks at nothing else
	isWords   // the same, and as a plain text
)

// viewPart is one of a struct, as it is called in JSON.
type viewPart struct {
	name     string
	at, size uintptr
	is       *shape
}

// bytes are those of the part in the struct at p. Where they are the same, the values are;
// where they are not, the values may be the same.
func (v *viewPart) bytes(p unsafe.Pointer) string {
	return unsafe.String((*byte)(unsafe.Add(p, v.at)), v.size)
}

// sliceOf is how Go holds a list.
type sliceOf struct {
	first    unsafe.Pointer
	len, cap int
}

var viewShape = sync.OnceValue(func() *shape { return shapeOf(reflect.TypeFor[View](), isMessage, isString) })

// shapeOf looks at a type, with what its messages and its strings are.
func shapeOf(t reflect.Type, message, str shapeKind) *shape {
	switch {
	case t == reflect.TypeFor[text.Message]():
		return &shape{kind: message}
	case t == reflect.TypeFor[time.Time]():
		return &shape{kind: isTime}
	}
	switch t.Kind() {
	case reflect.Pointer:
		return &shape{kind: isPointer, of: shapeOf(t.Elem(), message, str)}
	case reflect.Slice:
		return &shape{kind: isList, of: shapeOf(t.Elem(), message, str), size: t.Elem().Size()}
	case reflect.String:
		return &shape{kind: str}
	case reflect.Bool:
		return &shape{kind: isBool}
	case reflect.Int:
		return &shape{kind: isInt}
	case reflect.Uint64:
		return &shape{kind: isUint}
	case reflect.Struct:
	default:
		panic("a view has a " + t.String())
	}
	switch {
	case t == reflect.TypeFor[Show]():
		message = isSaid
	case t == reflect.TypeFor[CheckView]():
		message = isWords
	}
	s := &shape{kind: isStruct}
	for i := range t.NumField() {
		f := t.Field(i)
		if !f.IsExported() {
			continue
		}
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		str := isString
		switch f.Tag.Get("write") {
		case "digits":
			str = isDigits
		case "words":
			str = isTerm
		}
		s.parts = append(s.parts, viewPart{name, f.Offset, f.Type.Size(), shapeOf(f.Type, message, str)})
	}
	return s
}

func (e *encoder) compare(s *shape, was, is unsafe.Pointer) {
	n := len(e.place)
	switch s.kind {
	case isStruct:
		for i := range s.parts {
			p := &s.parts[i]
			if p.bytes(was) == p.bytes(is) { // most of a view is copied from the one before
				continue
			}
			if n > 0 {
				e.place = append(e.place, '.')
			}
			e.place = append(e.place, p.name...)
			e.compare(p.is, unsafe.Add(was, p.at), unsafe.Add(is, p.at))
			e.place = e.place[:n]
		}
		return
	case isPointer:
		if a, b := *(*unsafe.Pointer)(was), *(*unsafe.Pointer)(is); a != nil && b != nil {
			e.compare(s.of, a, b)
			return
		}
	case isList:
		if a, b := (*sliceOf)(was), (*sliceOf)(is); a.len == b.len {
			for i := range b.len {
				e.place = strconv.AppendInt(append(e.place, '.'), int64(i), 10)
				e.compare(s.of, unsafe.Add(a.first, uintptr(i)*s.size), unsafe.Add(b.first, uintptr(i)*s.size))
				e.place = e.place[:n]
			}
			return
		}
	default:
		if s.same(was, is) {
			return
		}
	}
	if e.b[len(e.b)-1] != '{' {
		e.b = append(e.b, ',')
	}
	e.b = append(append(append(e.b, '"'), e.place...), `":`...)
	e.write(s, is)
}

// same compares two that have no parts.
func (s *shape) same(was, is unsafe.Pointer) bool {
	switch s.kind {
	case isString, isDigits, isTerm:
		return *(*string)(was) == *(*string)(is)
	case isBool:
		return *(*bool)(was) == *(*bool)(is)
	case isInt:
		return *(*int)(was) == *(*int)(is)
	case isUint:
		return *(*uint64)(was) == *(*uint64)(is)
	case isTime:
		return *(*time.Time)(was) == *(*time.Time)(is)
	}
	return (*text.Message)(was).Same(*(*text.Message)(is))
}

func (e *encoder) write(s *shape, v unsafe.Pointer) {
	switch s.kind {
	case isStruct:
		end := byte('{')
		for i := range s.parts {
			p := &s.parts[i]
			e.b = append(append(append(e.b, end, '"'), p.name...), `":`...)
			e.write(p.is, unsafe.Add(v, p.at))
			end = ','
		}
		e.b = append(e.b, '}')
	case isPointer:
		to := *(*unsafe.Pointer)(v)
		if to == nil {
			e.b = append(e.b, "null"...)
			return
		}
		e.write(s.of, to)
	case isList:
		l := (*sliceOf)(v)
		e.b = append(e.b, '[')
		for i := range l.len {
			if i > 0 {
				e.b = append(e.b, ',')
			}
			e.write(s.of, unsafe.Add(l.first, uintptr(i)*s.size))
		}
		e.b = append(e.b, ']')
	case isString:
		e.b = text.AppendQuoted(e.b, *(*string)(v))
	case isDigits:
		e.b = text.AppendQuoted(e.b, e.l.Digits(*(*string)(v)))
	case isTerm:
		e.b = text.AppendQuoted(e.b, e.l.Term(*(*string)(v)))
	case isBool:
		e.b = strconv.AppendBool(e.b, *(*bool)(v))
	case isInt:
		e.b = strconv.AppendInt(e.b, int64(*(*int)(v)), 10)
	case isUint:
		e.b = strconv.AppendUint(e.b, *(*uint64)(v), 10)
	case isTime:
		e.b = append((*time.Time)(v).AppendFormat(append(e.b, '"'), time.RFC3339Nano), '"')
	case isMessage:
		e.b = (*text.Message)(v).In(e.l).AppendJSON(e.b)
	case isSaid:
		e.b = text.Written(e.l.Say(*(*text.Message)(v))).AppendJSON(e.b)
	case isWords:
		e.b = text.AppendQuoted(e.b, e.l.Say(*(*text.Message)(v)))
	}
}
