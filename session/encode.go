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
// has a view is told what is not as in that one.

// encoder writes a view, or a part of it, as JSON and in words.
type encoder struct {
	l      *text.Language
	b      []byte
	place  []byte // of what is compared, as "now.show.digits"
	plain  bool   // of a sentence only the words: the page looks at nothing else
	bare   bool   // the same, and as a plain text
	digits bool   // texts are decimals
}

// whole writes all of a view in a language.
func whole(v *View, l *text.Language) []byte {
	e := encoder{l: l, b: make([]byte, 0, 4<<10)}
	e.write(reflect.ValueOf(v).Elem())
	return e.b
}

// changes writes what is not as it was: {"set":{"now.in":"42.9",...}}, where places in a
// list are numbers.
func changes(was, is *View, l *text.Language) []byte {
	e := encoder{l: l, b: append(make([]byte, 0, 1<<10), `{"set":{`...), place: make([]byte, 0, 64)}
	e.compare(reflect.ValueOf(was).Elem(), reflect.ValueOf(is).Elem())
	return append(e.b, "}}"...)
}

var (
	messageType = reflect.TypeFor[text.Message]()
	timeType    = reflect.TypeFor[time.Time]()
	showType    = reflect.TypeFor[Show]()
	checkType   = reflect.TypeFor[CheckView]()
)

func (e *encoder) compare(was, is reflect.Value) {
	n := len(e.place)
	part := func(name string, was, is reflect.Value) {
		if e.place = append(e.place[:n], name...); n > 0 {
			e.place = append(append(e.place[:n], '.'), name...)
		}
		e.compare(was, is)
		e.place = e.place[:n]
	}
	same := false
	switch t := is.Type(); {
	case t == messageType:
		same = is.Addr().Interface().(*text.Message).Same(*was.Addr().Interface().(*text.Message))
	case t.Kind() == reflect.Struct && t != timeType:
		e.plain, e.bare = e.plain || t == showType, t == checkType
		a, b := unsafe.Pointer(was.UnsafeAddr()), unsafe.Pointer(is.UnsafeAddr())
		for i, f := range partsOf(t) {
			if f.bytes(a) != f.bytes(b) { // most of a view is copied from the one before
				e.digits = f.digits
				part(f.name, was.Field(i), is.Field(i))
			}
		}
		e.digits = false
		e.plain, e.bare = e.plain && t != showType, false
		return
	case t.Kind() == reflect.Pointer:
		if same = was.Pointer() == is.Pointer(); !same && !was.IsNil() && !is.IsNil() {
			e.compare(was.Elem(), is.Elem())
			return
		}
	case t.Kind() == reflect.Slice:
		if same = was.Len() == is.Len() && was.Pointer() == is.Pointer(); !same && was.Len() == is.Len() {
			for i := range is.Len() {
				part(strconv.Itoa(i), was.Index(i), is.Index(i))
			}
			return
		}
	default:
		same = was.Equal(is)
	}
	if same {
		return
	}
	if e.b[len(e.b)-1] != '{' {
		e.b = append(e.b, ',')
	}
	e.b = append(append(append(e.b, '"'), e.place...), `":`...)
	e.write(is)
}

func (e *encoder) write(v reflect.Value) {
	t := v.Type()
	switch {
	case t == messageType:
		m := *v.Addr().Interface().(*text.Message)
		if e.bare {
			e.b = text.AppendQuoted(e.b, e.l.Say(m))
			return
		}
		if e.plain {
			m = text.Written(e.l.Say(m))
		} else {
			m = m.In(e.l)
		}
		e.b = m.AppendJSON(e.b)
	case t == timeType:
		e.b = append(v.Addr().Interface().(*time.Time).AppendFormat(append(e.b, '"'), time.RFC3339Nano), '"')
	case t.Kind() == reflect.Struct:
		e.plain, e.bare = e.plain || t == showType, t == checkType
		end := byte('{')
		for i, f := range partsOf(t) {
			e.b = append(append(append(e.b, end, '"'), f.name...), `":`...)
			e.digits = f.digits
			e.write(v.Field(i))
			end = ','
		}
		e.digits = false
		e.plain, e.bare = e.plain && t != showType, false
		e.b = append(e.b, '}')
	case t.Kind() == reflect.Pointer && !v.IsNil():
		e.write(v.Elem())
	case t.Kind() == reflect.Slice:
		e.b = append(e.b, '[')
		for i := range v.Len() {
			if i > 0 {
				e.b = append(e.b, ',')
			}
			e.write(v.Index(i))
		}
		e.b = append(e.b, ']')
	case e.digits && t.Kind() == reflect.String:
		e.b = text.AppendQuoted(e.b, e.l.Digits(v.String()))
	case t.Kind() == reflect.String:
		e.b = text.AppendQuoted(e.b, v.String())
	case t.Kind() == reflect.Bool:
		e.b = strconv.AppendBool(e.b, v.Bool())
	case v.CanInt():
		e.b = strconv.AppendInt(e.b, v.Int(), 10)
	case v.CanUint():
		e.b = strconv.AppendUint(e.b, v.Uint(), 10)
	default: // a pointer to nothing
		e.b = append(e.b, "null"...)
	}
}

var partsOfType sync.Map // by type

// viewPart is one of a struct, as it is called in JSON.
type viewPart struct {
	name   string
	digits bool // tagged `write:"digits"`: a decimal, to be written as the reader does

	at, size uintptr // in the struct
}

// bytes are those of the part in the struct at p. Where they are the same, the values are;
// where they are not, the values may be the same.
func (v viewPart) bytes(p unsafe.Pointer) string {
	return unsafe.String((*byte)(unsafe.Add(p, v.at)), v.size)
}

// partsOf are those of a struct.
func partsOf(t reflect.Type) []viewPart {
	if all, ok := partsOfType.Load(t); ok {
		return all.([]viewPart)
	}
	var all []viewPart
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		all = append(all, viewPart{name, f.Tag.Get("write") == "digits", f.Offset, f.Type.Size()})
	}
	partsOfType.Store(t, all)
	return all
}
